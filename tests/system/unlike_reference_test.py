# SPDX-License-Identifier: GPL-3.0-or-later
"""Every visibility against the independent correlation where stations are recorded unlike one
another, grids are odd, and delays far from the ordinary."""

import unittest
from dataclasses import replace
from fractions import Fraction

import jobs
import program
import reference
from comparison import hold_against_reference
from scene import (ALDER, BIRCH, CEDAR, COMPLEX, LOW_HZ, LOWER, REAL, STATIONS, UPPER, WIDTH_HZ,
                   Scene, receiver)


class Unlike(Scene):
    """Stations recorded unlike one another."""

    def test_four_kinds_of_sampling_on_six_baselines(self):
        kinds = ((REAL, UPPER), (REAL, LOWER), (COMPLEX, UPPER), (COMPLEX, LOWER))
        for rotation in (reference.AFTER, reference.BEFORE):
            for sideband in (UPPER, LOWER):
                band = reference.Band(LOW_HZ if sideband > 0 else LOW_HZ + WIDTH_HZ, WIDTH_HZ,
                                      sideband)
                made = self.campaign(STATIONS, rotation=rotation, correct_quantisation=True,
                                     bands={"low": band})
                for station, kind, bits in zip(STATIONS, kinds, (1, 2, 4, 8)):
                    self.record(made, station, receiver(*kind), [self.wave(1)], bits)
                hold_against_reference(self, made)

    def test_two_half_bands_against_a_whole_one(self):
        half = WIDTH_HZ / 2
        halves = [self.wave(2, LOW_HZ, half), self.wave(3, LOW_HZ + half, half)]
        for kinds in (((REAL, UPPER), (REAL, UPPER)), ((COMPLEX, LOWER), (REAL, LOWER)),
                      ((REAL, UPPER), (COMPLEX, UPPER)), ((REAL, LOWER), (REAL, UPPER))):
            made = self.campaign([ALDER, BIRCH, CEDAR], correct_quantisation=True)
            self.record(made, ALDER, receiver(REAL, UPPER), halves)
            for station in (BIRCH, CEDAR):
                for k, kind in enumerate(kinds):
                    self.record(made, station, receiver(*kind, LOW_HZ + k * half, half), halves,
                                2 * (k + 1))
            hold_against_reference(self, made)

    def test_two_half_bands_with_frames_missing_in_one(self):
        half = WIDTH_HZ / 2
        halves = [self.wave(2, LOW_HZ, half), self.wave(3, LOW_HZ + half, half)]
        made = self.campaign([ALDER, BIRCH])
        self.record(made, ALDER, receiver(REAL, UPPER), halves)
        self.record(made, BIRCH, receiver(REAL, UPPER, LOW_HZ, half), halves,
                    missing=((0, 2), (0, 4)))
        self.record(made, BIRCH, receiver(REAL, UPPER, LOW_HZ + half, half), halves)
        hold_against_reference(self, made)

    def test_twice_the_bandwidth(self):
        for rotation in (reference.AFTER, reference.BEFORE):
            for kind in ((REAL, UPPER), (REAL, LOWER), (COMPLEX, UPPER), (COMPLEX, LOWER)):
                made = self.campaign([ALDER, BIRCH], rotation=rotation)
                # The band is the lower half of Birch's for one, channels 5 to 36 of 64 for the
                # other rotation.
                low = LOW_HZ if rotation == reference.AFTER else LOW_HZ - 5 * WIDTH_HZ / 32
                self.record(made, ALDER, receiver(REAL, UPPER), [self.wave(4)])
                self.record(made, BIRCH, receiver(*kind, low, 2 * WIDTH_HZ), [self.wave(4)],
                            density=0.6)
                hold_against_reference(self, made)

    def test_zero_frequency_off_the_channel_grid(self):
        channel = WIDTH_HZ / 32
        for off in (0.25, 0.5, -0.3, 0.9375):
            for kind in ((REAL, UPPER), (REAL, LOWER), (COMPLEX, UPPER), (COMPLEX, LOWER)):
                made = self.campaign([ALDER, BIRCH], rotation=reference.BEFORE)
                low = LOW_HZ - (7 + off) * channel
                self.record(made, ALDER, receiver(REAL, UPPER), [self.wave(5)])
                self.record(made, BIRCH, receiver(*kind, low, 2 * WIDTH_HZ), [self.wave(5)],
                            density=0.6)
                hold_against_reference(self, made)

    def test_off_the_grid_after_the_transform(self):
        """Birch alone is rotated before the transform; the other stays as asked."""
        for kind in ((REAL, UPPER), (REAL, LOWER), (COMPLEX, UPPER), (COMPLEX, LOWER)):
            made = self.campaign([ALDER, BIRCH], rotation=reference.AFTER)
            low = LOW_HZ - 7.25 * WIDTH_HZ / 32
            self.record(made, ALDER, receiver(REAL, LOWER), [self.wave(5)])
            self.record(made, BIRCH, receiver(*kind, low, 2 * WIDTH_HZ), [self.wave(5)],
                        density=0.6)
            hold_against_reference(self, made)

    def test_two_bands_out_of_one_stream(self):
        """They overlap, are of opposite sidebands, and lie off the grid of Birch's stream, in the
        middle of it."""
        channel, half = WIDTH_HZ / 32, WIDTH_HZ / 2
        bands = {"low": reference.Band(LOW_HZ + 3 * channel, half),
                 "high": reference.Band(LOW_HZ + 28 * channel, half, -1)}
        for rotation in (reference.AFTER, reference.BEFORE):
            made = self.campaign([ALDER, BIRCH], bands=bands, rotation=rotation, n_channels=16)
            self.record(made, ALDER, receiver(REAL, UPPER), [self.wave(5)])
            self.record(made, BIRCH, receiver(COMPLEX, LOWER, LOW_HZ - 2.6 * channel), [])
            hold_against_reference(self, made)

    def test_odd_numbers_of_channels(self):
        for n_channels, integration in ((15, Fraction(15, 1000)), (33, Fraction(165, 10000)),
                                        (1, Fraction(1, 100)), (2, Fraction(16, 1000)),
                                        (125, Fraction(16, 1000))):
            with self.subTest(n_channels=n_channels):
                made = self.campaign(STATIONS[:3], n_channels=n_channels,
                                     integration_s=integration, rotation=reference.BEFORE)
                # A segment of a complex stream has as many samples as channels, and needs two.
                third = (COMPLEX if n_channels > 1 else REAL, LOWER)
                for station, kind in zip(STATIONS, ((REAL, UPPER), (REAL, LOWER), third)):
                    self.record(made, station, receiver(*kind), [self.wave(6)], 4)
                hold_against_reference(self, made)

    def test_channels_by_width(self):
        made = self.campaign([ALDER, BIRCH])
        for station in (ALDER, BIRCH):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(6)])
        job = made.job()
        del job["correlation"]["channels"]
        job["correlation"]["channel_width_hz"] = WIDTH_HZ / 32
        jobs.write(self.folder / "by_width.yaml", job)
        self.correlate(self.folder / "by_width.yaml", self.folder / "by_width.fits")
        hold_against_reference(self, made)


class Delays(Scene):
    """Delays and frequencies far from the ordinary."""

    def observe(self, stations, low_hz=LOW_HZ, kinds=((REAL, UPPER), (COMPLEX, LOWER)), **changes):
        made = self.campaign(stations, low_hz, **changes)
        for station, kind in zip(stations, kinds):
            self.record(made, station, receiver(*kind, low_hz), [self.wave(7, low_hz)])
        return made

    def test_millimetre_wave(self):
        """A delay of 3 ms has steps of 4e-19 s as a double, 6e-7 rad at 230 GHz: the limit is ten
        of those."""
        for rotation in (reference.AFTER, reference.BEFORE):
            made = self.observe([ALDER, BIRCH], 230.0e9, rotation=rotation)
            hold_against_reference(self, made, limit=6.0e-6)

    def test_delay_through_many_samples(self):
        # A spacecraft's rate, 1e-4 s/s with 1e-4 s/s^2: 4 samples in the scan.
        fast = replace(ALDER, delay_s=(3.1e-3, 1.0e-4, 1.0e-4))
        for rotation in (reference.AFTER, reference.BEFORE):
            hold_against_reference(self, self.observe([fast, BIRCH], rotation=rotation))

    def test_no_delay_at_all(self):
        still = [replace(ALDER, delay_s=(0.0,), ahead_s=0.0, clock_rate=0.0),
                 replace(BIRCH, delay_s=(0.0,))]
        hold_against_reference(self, self.observe(still, kinds=((REAL, UPPER), (REAL, UPPER))))

    def test_edge_at_a_fraction_of_a_hertz(self):
        hold_against_reference(self, self.observe([ALDER, BIRCH], 8400123456.789))


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
