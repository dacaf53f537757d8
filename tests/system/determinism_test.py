# SPDX-License-Identifier: GPL-3.0-or-later
"""The same job gives the same bytes, for any number of threads and every time."""

import unittest
from fractions import Fraction

import numpy as np

import program
import reference
import signals
from campaign import START, Campaign, Recorded, Station

LOW_HZ, WIDTH_HZ, FS = 8400.0e6, 5.0e5, 1_000_000
NAMES = ("Alder", "Birch", "Cedar", "Damson")


class Determinism(program.SystemTest):
    def make(self, rotation, n_channels):
        """Four stations of all kinds, two scans of 25 and 13 integrations, frames missing."""
        stations = [Station(name, (1e-3 * (k - 1.3), 1e-6 * (k - 1.5)))
                    for k, name in enumerate(NAMES)]
        scans = [reference.Scan(START, Fraction(200, 1000), NAMES, "Ousel"),
                 reference.Scan(START + Fraction(300, 1000), Fraction(103, 1000), NAMES, "Willow")]
        made = Campaign(self.folder, stations, {"low": reference.Band(LOW_HZ, WIDTH_HZ)}, scans,
                        n_channels=n_channels, integration_s=Fraction(8, 1000), rotation=rotation,
                        correct_quantisation=True)
        kinds = ((False, 1), (False, -1), (True, 1), (True, -1))
        for k, (is_complex, sideband) in enumerate(kinds):
            zero = LOW_HZ + (WIDTH_HZ / 2 if is_complex else 0 if sideband > 0 else WIDTH_HZ)
            tuned = signals.Receiver(zero, FS >> is_complex, is_complex, sideband)
            x = signals.noise(np.random.default_rng(k), tuned, tuned.sample_rate_hz * 416 // 1000)
            made.record_vdif(NAMES[k], [Recorded(tuned, x)], 2, tuned.sample_rate_hz // 125,
                             missing=((0, 3 + k), (0, 40)))
        return made.write()

    def check_equal_bytes(self, rotation, n_channels):
        job, outputs = self.make(rotation, n_channels), []
        for k, n_threads in enumerate((1, 2, 3, 7, 1)):
            path = self.folder / f"out_{k}.fits"
            self.correlate(job, path, "--threads", n_threads)
            outputs.append(path.read_bytes())
        self.assertGreater(len(outputs[0]), 100_000)
        for other in outputs[1:]:
            self.assertTrue(other == outputs[0], "the files differ")

    def test_rotation_after_the_transform(self):
        self.check_equal_bytes("after_fft", 32)

    def test_rotation_before_the_transform(self):
        self.check_equal_bytes("before_fft", 250)

    def test_file_says_nothing_of_its_name_and_folder(self):
        job = self.make("after_fft", 32)
        elsewhere = self.folder / "elsewhere"
        elsewhere.mkdir()
        self.correlate(job, self.folder / "a.fits")
        self.correlate(job, elsewhere / "b.fits")
        self.assertTrue((self.folder / "a.fits").read_bytes()
                        == (elsewhere / "b.fits").read_bytes(), "the files differ")


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
