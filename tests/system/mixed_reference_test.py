# SPDX-License-Identifier: GPL-3.0-or-later
"""Every visibility against the independent correlation where stations are recorded unlike, grids
are odd, samples are lost and scans begin anywhere."""

import unittest
from dataclasses import replace
from fractions import Fraction

import numpy as np

import idi_files
import jobs
import program
import reference
import signals
import times
from campaign import START, Campaign, Recorded, Station
from comparison import VISIBILITY_LIMIT, compare, hold_against_reference

LOW_HZ, WIDTH_HZ = 8400.0e6, 5.0e5
EARLY = START - Fraction(8, 1000)
SECONDS = Fraction(64, 1000)
INTEGRATION = Fraction(16, 1000)
ALDER = Station("Alder", (3.123469e-3, 1.5e-6, 3.0e-8), 2.0e-6, 1.0e-8)
BIRCH = Station("Birch", (-1.700213e-3, -1.1e-6, -2.0e-8, 1.0e-9))
CEDAR = Station("Cedar", (0.700011e-3, 0.4e-6), -3.0e-6)
DAMSON = Station("Damson", (-0.2e-3, 0.9e-6))
STATIONS = [ALDER, BIRCH, CEDAR, DAMSON]
REAL, COMPLEX, UPPER, LOWER = False, True, 1, -1


def scan(names, start=START, seconds=Fraction(40, 1000), source="Ousel"):
    return reference.Scan(start, seconds, tuple(names), source)


def receiver(is_complex, sideband, low_hz=LOW_HZ, width_hz=WIDTH_HZ):
    if is_complex:
        return signals.Receiver(low_hz + width_hz / 2, int(width_hz), True, sideband)
    zero = low_hz if sideband > 0 else low_hz + width_hz
    return signals.Receiver(zero, int(2 * width_hz), False, sideband)


class Mixed(program.SystemTest):
    waves, heard = {}, {}  # made once for all tests

    def campaign(self, stations, low_hz=LOW_HZ, width_hz=WIDTH_HZ, **changes):
        arguments = {"bands": {"low": reference.Band(low_hz, width_hz)},
                     "scans": [scan(s.name for s in stations)], "n_channels": 32,
                     "integration_s": INTEGRATION}
        arguments.update(changes)
        return Campaign(self.folder, list(stations), **arguments)

    def wave(self, seed, low_hz=LOW_HZ, width_hz=WIDTH_HZ, start=EARLY, seconds=SECONDS):
        key = seed, low_hz, width_hz, start, seconds
        if key not in self.waves:
            self.waves[key] = signals.Wave(np.random.default_rng(seed), low_hz + width_hz / 2,
                                           width_hz, start, seconds)
        return self.waves[key]

    def hear(self, made, seed, station, tuned, waves, density, start, seconds):
        key = (seed, repr((station, tuned, density, start - made.epoch, seconds)),
               tuple(map(id, waves)))
        if key not in self.heard:
            self.heard[key] = made.hear(np.random.default_rng(seed), station, tuned, waves,
                                        density, start, seconds)
        return self.heard[key]

    def record(self, made, station, tuned, waves, bits=2, *, start=EARLY, seconds=SECONDS,
               density=0.4, **options):
        """One recording of one receiver, in frames of 8 ms."""
        seed = sum(map(ord, station.name)) + len(made.recordings)
        x = self.hear(made, seed, station, tuned, waves, density, start, seconds)
        made.record_vdif(station.name, [Recorded(tuned, x)], bits, tuned.sample_rate_hz // 125,
                         start=start, **options)


class Unlike(Mixed):
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


class Delays(Mixed):
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


class Lost(Mixed):
    """Samples that are not there."""

    def check(self, *options_of_stations, bits=2, **changes):
        made = self.campaign(STATIONS[:len(options_of_stations)], **changes)
        for station, options in zip(STATIONS, options_of_stations):
            kind = (COMPLEX, LOWER) if station is CEDAR else (REAL, UPPER)
            self.record(made, station, receiver(*kind), [self.wave(8)], bits, **options)
        return hold_against_reference(self, made)

    def test_missing_frames(self):
        for rotation in (reference.AFTER, reference.BEFORE):
            self.check({"missing": ((0, 2), (0, 5))}, {"missing": ((0, 3),)},
                       {"missing": ((0, 2), (0, 3))}, rotation=rotation,
                       correct_quantisation=True)

    def test_invalid_bit(self):
        self.check({"invalid": ((0, 1),)}, {"invalid": ((0, 4),), "missing": ((0, 2),)}, {})

    def test_late_start(self):
        self.check({"late_frames": {0: 3}}, {"late_frames": {0: 4}}, {})

    def test_recording_begins_after_the_scan_and_ends_before_it(self):
        made = self.campaign([ALDER, BIRCH, CEDAR])
        self.record(made, ALDER, receiver(REAL, UPPER), [self.wave(8)])
        self.record(made, BIRCH, receiver(REAL, UPPER), [self.wave(8)],
                    start=START + Fraction(16, 1000), seconds=Fraction(16, 1000))
        # Cedar's last whole frame ends within the first integration.
        self.record(made, CEDAR, receiver(COMPLEX, UPPER), [self.wave(8)],
                    seconds=Fraction(16, 1000))
        hold_against_reference(self, made)

    def test_small_frames_missing_here_and_there(self):
        """Frames of 160 samples, one in five lost: losses begin and end inside segments."""
        generator = np.random.default_rng(9)
        made = self.campaign([ALDER, BIRCH])
        for k, station in enumerate((ALDER, BIRCH)):
            tuned = receiver(REAL, UPPER)
            x = made.hear(generator, station, tuned, [self.wave(8)], 0.4, EARLY, SECONDS)
            lost = tuple((0, int(f)) for f in np.flatnonzero(generator.random(len(x) // 160)
                                                             < 0.2))
            made.record_vdif(station.name, [Recorded(tuned, x)], 2, 160, start=EARLY,
                             missing=lost)
        hold_against_reference(self, made)

    def test_one_polarization_lost(self):
        made = self.campaign([ALDER, BIRCH], products=("RR", "LL", "RL", "LR"))
        for k, station in enumerate((ALDER, BIRCH)):
            generator, streams = np.random.default_rng(k), []
            for thread, polarization in enumerate("RL"):
                tuned = receiver(REAL, UPPER)
                x = made.hear(generator, station, tuned, [self.wave(30 + thread)], 0.4, EARLY,
                              SECONDS)
                streams.append(Recorded(tuned, x, polarization, thread))
            lost = tuple((1, frame) for frame in range(8)) if k == 0 else ((1, 3),)
            if k == 0:
                lost = lost[2:]
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY, missing=lost)
        hold_against_reference(self, made)

    def test_one_station_has_one_polarization_only(self):
        made = self.campaign([ALDER, BIRCH], products=("RR", "LL", "RL", "LR"))
        for k, station in enumerate((ALDER, BIRCH)):
            generator, streams = np.random.default_rng(k), []
            for thread, polarization in enumerate("RL"[:k + 1]):
                tuned = receiver(REAL, UPPER)
                x = made.hear(generator, station, tuned, [self.wave(30 + thread)], 0.4, EARLY,
                              SECONDS)
                streams.append(Recorded(tuned, x, polarization, thread))
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY)
        hold_against_reference(self, made)


class Scans(Mixed):
    """When scans begin and who takes part."""

    def check(self, scans, start, seconds, stations=(ALDER, BIRCH, CEDAR), **changes):
        made = self.campaign(stations, scans=scans, **changes)
        for station in stations:
            kind = (COMPLEX, UPPER) if station is CEDAR else (REAL, UPPER)
            self.record(made, station, receiver(*kind),
                        [self.wave(10, start=start, seconds=seconds)], start=start,
                        seconds=seconds)
        hold_against_reference(self, made)

    def test_several_scans_and_sources(self):
        names = [s.name for s in (ALDER, BIRCH, CEDAR)]
        self.check([scan(names, START, Fraction(20, 1000)),
                    scan(names[1:], START + Fraction(30, 1000), Fraction(16, 1000), "Willow"),
                    scan(names, START + Fraction(50, 1000), Fraction(17, 1000)),
                    scan([names[0], names[2]], START + Fraction(70, 1000), Fraction(7, 1000),
                         "Willow")], EARLY, Fraction(96, 1000))

    def test_scans_hours_apart_in_one_recording(self):
        """Three scans, three hours from one to the next, 7 frames or 350 of each; in a file each,
        and all in one file."""
        stations = [replace(ALDER, delay_s=(3.123469e-3, 1.0e-7)),
                    replace(BIRCH, delay_s=(-1.700213e-3, -1.0e-7))]
        names, kinds = [s.name for s in stations], ((REAL, UPPER), (COMPLEX, LOWER))
        for per_frame_ms, n_files in ((Fraction(8), 3), (Fraction(8), 1),
                                      (Fraction(16, 100), 3), (Fraction(16, 100), 1)):
            parts, rows = [], []
            for k in range(3):
                begin = START + 10800 * k
                part = self.campaign(stations, scans=[scan(names, begin, Fraction(24, 1000))])
                part.folder = self.folder / f"{k}"
                part.folder.mkdir(exist_ok=True)
                for station, kind in zip(stations, kinds):
                    tuned = receiver(*kind)
                    start = begin - Fraction(24, 1000)
                    x = self.hear(part, k, station, tuned, [], 0.0, start, Fraction(56, 1000))
                    part.record_vdif(station.name, [Recorded(tuned, x)], 2,
                                     int(tuned.sample_rate_hz * per_frame_ms / 1000), start=start)
                parts.append(part)
                rows += [replace(row, scan=k) for row in reference.correlate(part.setup())]
            made = self.campaign(stations, scans=[part.scans[0] for part in parts])
            made.streams, made.table_step_s = parts[0].streams, 60
            for k in range(len(names)):
                files = [f"{n}/{part.recordings[k]['files'][0]}" for n, part in enumerate(parts)]
                if n_files == 1:
                    whole = self.folder / f"{names[k]}.vdif"
                    whole.write_bytes(b"".join((self.folder / f).read_bytes() for f in files))
                    files = [whole.name]
                made.recordings.append({**parts[0].recordings[k], "files": files})
            self.correlate(made.write(), self.folder / "out.fits")
            compare(self, made, idi_files.read(self.folder / "out.fits"), rows, VISIBILITY_LIMIT)

    def test_over_a_second(self):
        begin = START + Fraction(980, 1000)
        self.check([scan(["Alder", "Birch", "Cedar"], begin)], begin - Fraction(12, 1000),
                   Fraction(72, 1000))

    def test_start_between_samples(self):
        begin = START + Fraction(31415927, 10**10)
        self.check([scan(["Alder", "Birch", "Cedar"], begin)], EARLY, SECONDS)

    def test_scan_that_is_not_a_whole_number_of_segments(self):
        self.check([scan(["Alder", "Birch", "Cedar"], seconds=Fraction(33377, 10**6))], EARLY,
                   SECONDS)

    def test_through_a_leap_second(self):
        # 2016-12-31 ended with 23:59:60 (IERS Bulletin C 52).
        epoch = times.parse("2016-12-31T23:59:59")
        for offset in (Fraction(980, 1000), Fraction(1980, 1000)):
            begin = epoch + offset
            start, seconds = begin - Fraction(12, 1000), Fraction(72, 1000)
            made = self.campaign([ALDER, BIRCH], epoch=epoch,
                                 scans=[scan(["Alder", "Birch"], begin)])
            for station in (ALDER, BIRCH):
                self.record(made, station, receiver(REAL, UPPER),
                            [self.wave(11, start=start, seconds=seconds)], start=start,
                            seconds=seconds)
            hold_against_reference(self, made)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
