# SPDX-License-Identifier: GPL-3.0-or-later
"""Every family of kernels against the independent correlation, on the routes that full bands of
two-bit samples take, with samples missing in between."""

import unittest

import numpy as np

import program
from campaign import Recorded
from comparison import compare
from scene import ALDER, BIRCH, CEDAR, EARLY, LOWER, REAL, SECONDS, UPPER, Scene, receiver
import idi_files
import reference

FAMILIES = ("plain", "avx2", "avx512")


class Kernels(Scene):
    def make(self, sideband, n_channels, rotation=reference.AFTER):
        """Two polarizations of three stations, one of which lost two frames."""
        band = reference.Band(receiver(REAL, sideband).zero_hz, 5.0e5, sideband)
        made = self.campaign([ALDER, BIRCH, CEDAR], bands={"low": band}, n_channels=n_channels,
                             products=("RR", "LL", "RL", "LR"), rotation=rotation)
        waves = [self.wave(31), self.wave(32)]
        for k, station in enumerate((ALDER, BIRCH, CEDAR)):
            streams = []
            for thread, polarization in enumerate("RL"):
                x = made.hear(np.random.default_rng(10 * k + thread), station,
                              receiver(REAL, sideband), [waves[thread]], 0.4, EARLY, SECONDS)
                streams.append(Recorded(receiver(REAL, sideband), x, polarization, thread,
                                        band="low"))
            missing = {(0, 3), (1, 3), (1, 4)} if station is BIRCH else ()
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY, missing=missing)
        return made

    def check(self, sideband, n_channels, rotation=reference.AFTER):
        made = self.make(sideband, n_channels, rotation)
        job = made.write()
        rows = reference.correlate(made.setup())
        tried = 0
        for family in FAMILIES:
            output = self.folder / f"{family}.fits"
            done = program.run("correlate", job, "-o", output, "--kernels", family)
            if done.code != 0:
                self.assertIn("do not run here", done.err)
                continue
            tried += 1
            compare(self, made, idi_files.read(output), rows, 2.0e-6)
        self.assertGreaterEqual(tried, 1)

    def test_batches_of_upper_bands(self):
        self.check(UPPER, 64)

    def test_batches_of_lower_bands(self):
        self.check(LOWER, 64)

    def test_batches_rotated_before_the_transform(self):
        self.check(UPPER, 64, reference.BEFORE)
        self.check(LOWER, 64, reference.BEFORE)

    def test_split_of_other_lengths(self):
        self.check(UPPER, 160)

    def test_unknown_family(self):
        made = self.make(UPPER, 64)
        done = program.run("correlate", made.write(), "-o", self.folder / "x.fits", "--kernels",
                           "abacus")
        self.assertEqual(done.code, 1)
        self.assertIn('kernels "abacus" do not run here; this processor has:', done.err)
        self.assertFalse((self.folder / "x.fits").exists())


if __name__ == "__main__":
    unittest.main()
