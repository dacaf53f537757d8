# SPDX-License-Identifier: GPL-3.0-or-later
"""Every visibility of the program against an independent correlation in double precision, for
every way of recording a band."""

import unittest
from fractions import Fraction

import numpy as np

import program
import reference
from campaign import Recorded
from comparison import hold_against_reference
from scene import (ALDER, BIRCH, COMPLEX, EARLY, LOW_HZ, LOWER, REAL, SECONDS, UPPER, WIDTH_HZ,
                   Scene, receiver)

PAIR = [ALDER, BIRCH]
SAMPLES_PER_FRAME = {REAL: 8000, COMPLEX: 4000}


class Kinds(Scene):
    """Bits x real or complex x sideband x rotation, both stations alike."""

    signals_of = {}

    def listen(self, is_complex, sideband):
        """Samples of both stations, made once for all numbers of bits."""
        key = is_complex, sideband
        if key not in self.signals_of:
            generator = np.random.default_rng(100 + 2 * is_complex + (sideband > 0))
            made = self.campaign(PAIR)
            self.signals_of[key] = [
                made.hear(generator, station, receiver(*key), [self.wave(1)], 0.4, EARLY, SECONDS)
                for station in (ALDER, BIRCH)]
        return self.signals_of[key]

    def check(self, bits, is_complex, sideband, rotation, corrected):
        band = reference.Band(LOW_HZ if sideband > 0 else LOW_HZ + WIDTH_HZ, WIDTH_HZ, sideband)
        made = self.campaign(PAIR, bands={"low": band}, rotation=rotation,
                        correct_quantisation=corrected)
        for station, x in zip(("Alder", "Birch"), self.listen(is_complex, sideband)):
            recorded = Recorded(receiver(is_complex, sideband), x, band="low")
            made.record_vdif(station, [recorded], bits, SAMPLES_PER_FRAME[is_complex],
                             start=EARLY)
        hold_against_reference(self, made)


def _add_kinds():
    for bits in (1, 2, 4, 8, 16):
        for is_complex in (REAL, COMPLEX):
            for sideband in (UPPER, LOWER):
                for rotation in (reference.AFTER, reference.BEFORE):
                    name = (f"test_{bits}_bits_{'complex' if is_complex else 'real'}_"
                            f"{'upper' if sideband > 0 else 'lower'}_{rotation}")
                    # Half of the cases with the quantisation correction.
                    corrected = (sideband > 0) == (rotation == reference.BEFORE)

                    def case(self, arguments=(bits, is_complex, sideband, rotation, corrected)):
                        self.check(*arguments)

                    setattr(Kinds, name, case)


_add_kinds()


class Layouts(Scene):
    """The same samples laid out in files in other ways."""

    def streams(self, kind, station, places, seed, bands=(), **options):
        """places: (polarization, band index, thread, channel)."""
        generator = np.random.default_rng(seed)
        made = self.campaign(PAIR)
        out = []
        for polarization, i_band, thread, channel in places:
            low = LOW_HZ + i_band * WIDTH_HZ
            band = bands[i_band] if len(bands) > 1 else None
            tuned = receiver(*kind, low)
            x = made.hear(generator, station, tuned,
                          [self.wave(20 + i_band + 5 * (polarization in "LY"), low)], 0.4, EARLY,
                          SECONDS)
            out.append(Recorded(tuned, x, polarization, thread, channel, band, **options))
        return out

    def test_two_polarizations_in_two_threads_with_all_products(self):
        made = self.campaign(PAIR, products=("RR", "LL", "RL", "LR"),
                        correct_quantisation=True)
        for k, station in enumerate(made.stations):
            streams = self.streams((REAL, UPPER), station, [("R", 0, 7, 0), ("L", 0, 3, 0)], k)
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY)
        hold_against_reference(self, made)

    def test_products_by_default(self):
        made = self.campaign(PAIR)
        for k, station in enumerate(made.stations):
            streams = self.streams((REAL, UPPER), station, [("R", 0, 0, 0), ("L", 0, 1, 0)], k)
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY)
        job = made.write()
        self.correlate(job, self.folder / "default.fits")
        made.products = ("RR", "LL", "RL", "LR")
        hold_against_reference(self, made)
        self.assertEqual((self.folder / "default.fits").stat().st_size,
                         (self.folder / "out.fits").stat().st_size)

    def test_linear_polarizations_with_one_product(self):
        made = self.campaign(PAIR, products=("YY",))
        for k, station in enumerate(made.stations):
            streams = self.streams((REAL, UPPER), station, [("X", 0, 0, 0), ("Y", 0, 1, 0)], k)
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY)
        hold_against_reference(self, made)

    def test_two_bands_and_polarizations_in_four_channels(self):
        bands = {"low": reference.Band(LOW_HZ, WIDTH_HZ),
                 "high": reference.Band(LOW_HZ + WIDTH_HZ, WIDTH_HZ)}
        for bits, is_complex in ((1, REAL), (2, COMPLEX), (4, COMPLEX), (8, REAL), (16, REAL)):
            made = self.campaign(PAIR, bands=bands, products=("RR", "LL", "RL", "LR"))
            for k, station in enumerate(made.stations):
                places = [("R", 0, 2, 3), ("L", 0, 2, 1), ("R", 1, 2, 0), ("L", 1, 2, 2)]
                streams = self.streams((is_complex, UPPER), station, places, k, ("low", "high"))
                made.record_vdif(station.name, streams, bits, 4000, start=EARLY)
            hold_against_reference(self, made)

    def test_two_bands_in_two_recordings_of_a_station(self):
        bands = {"low": reference.Band(LOW_HZ, WIDTH_HZ),
                 "high": reference.Band(LOW_HZ + WIDTH_HZ, WIDTH_HZ)}
        made = self.campaign(PAIR, bands=bands)
        for k, station in enumerate(made.stations):
            for i_band, kind in ((0, (REAL, UPPER)), (1, (COMPLEX, LOWER))):
                streams = self.streams(kind, station, [("R", i_band, 0, 0)], 2 * k + i_band)
                made.record_vdif(station.name, streams, 2, SAMPLES_PER_FRAME[kind[0]],
                                 start=EARLY)
        hold_against_reference(self, made)

    def test_legacy_headers(self):
        made = self.campaign(PAIR)
        for k, station in enumerate(made.stations):
            streams = self.streams((REAL, LOWER), station, [("R", 0, 1023, 0)], k)
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY, legacy=True)
        hold_against_reference(self, made)

    def test_anchors_at_the_other_end(self):
        made = self.campaign(PAIR)
        for k, (station, anchor, kind) in enumerate(zip(
                made.stations, ("centre", "edge"), ((REAL, LOWER), (COMPLEX, UPPER)))):
            streams = self.streams(kind, station, [("R", 0, 0, 0)], k, anchor=anchor)
            made.record_vdif(station.name, streams, 2, SAMPLES_PER_FRAME[kind[0]], start=EARLY)
        hold_against_reference(self, made)

    def test_several_files(self):
        made = self.campaign(PAIR)
        for k, station in enumerate(made.stations):
            streams = self.streams((REAL, UPPER), station, [("R", 0, 0, 0), ("L", 0, 1, 0)], k)
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY, parts=3 + k)
        made.products = ("RR", "LL", "RL", "LR")
        hold_against_reference(self, made)

    def test_frames_out_of_order_and_twice(self):
        def shuffled(entries):
            order = np.random.default_rng(3).permutation(len(entries))
            return [entries[k] for k in order] + [entries[2]]

        made = self.campaign(PAIR)
        for k, station in enumerate(made.stations):
            streams = self.streams((REAL, UPPER), station, [("R", 0, 0, 0), ("L", 0, 1, 0)], k)
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY, order=shuffled)
        made.products = ("RR", "LL", "RL", "LR")
        hold_against_reference(self, made)

    def test_sound_files(self):
        kinds = (("WAV", "PCM_16", REAL), ("WAV", "FLOAT", COMPLEX), ("WAV", "PCM_24", REAL),
                 ("FLAC", "PCM_16", COMPLEX), ("FLAC", "PCM_24", COMPLEX), ("RF64", "PCM_16", REAL),
                 ("W64", "PCM_16", COMPLEX), ("W64", "FLOAT", REAL), ("WAV", "PCM_U8", COMPLEX))
        for kind, subtype, is_complex in kinds:
            with self.subTest(kind=kind, subtype=subtype):
                made = self.campaign(PAIR, products=("RR", "LL", "RL", "LR"))
                for seed, station in enumerate(made.stations):
                    streams = self.streams((is_complex, UPPER), station,
                                           [("R", 0, 0, 0), ("L", 0, 0, 1)], seed)
                    made.record_sound(station.name, streams, start=EARLY, kind=kind,
                                      subtype=subtype, full_scale_sigma=64.0)
                hold_against_reference(self, made)

    def test_sound_file_that_starts_between_samples(self):
        made = self.campaign(PAIR)
        start = EARLY + Fraction(3217, 10**10)
        for seed, (station, kind) in enumerate(zip(made.stations, ((REAL, LOWER),
                                                                   (COMPLEX, UPPER)))):
            streams = self.streams(kind, station, [("R", 0, 0, 0)], seed)
            made.record_sound(station.name, streams, start=start, full_scale_sigma=64.0)
        hold_against_reference(self, made)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
