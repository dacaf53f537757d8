# SPDX-License-Identifier: GPL-3.0-or-later
"""What the bench programs print, whose keys other programs read. No figure is judged."""

import json
import os
import subprocess
import unittest
from pathlib import Path

BENCH = Path(os.environ["WF_BUILD"]) / "bench"
ENGINE_KEYS = {"stations", "channels", "t_engine_s", "t_fft_s", "t_r2c_s", "t_cross_limit_s",
               "ratio_limit", "ratio_r2c", "cross_fraction_of_peak", "unpack_samples_per_s",
               "kernels"}
FAMILIES = ("plain", "avx2", "avx512")


def run(program, *arguments):
    return subprocess.run([BENCH / program, *map(str, arguments)], capture_output=True, text=True,
                          timeout=280, check=False)


@unittest.skipUnless((BENCH / "engine").exists(), "built without the bench programs")
class Bench(unittest.TestCase):
    def rows(self, program, *arguments):
        done = run(program, "--json", "--quick", *arguments)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        return [json.loads(line) for line in done.stdout.splitlines()]

    def check_positive(self, row):
        for key, value in row.items():
            if not isinstance(value, str):
                self.assertGreater(value, 0, key)

    def test_engine(self):
        rows = self.rows("engine", "--stations", "2,3", "--channels", 64)
        self.assertEqual([(row["stations"], row["channels"]) for row in rows], [(2, 64), (3, 64)])
        for row in rows:
            self.assertEqual(set(row), ENGINE_KEYS)
            self.check_positive(row)
            self.assertIn(row["kernels"], FAMILIES)
            # By definition; the figures are printed to five digits or more.
            limit_s = row["t_fft_s"] + row["t_cross_limit_s"]
            self.assertAlmostEqual(row["ratio_limit"] * limit_s / row["t_engine_s"], 1, delta=1e-4)
            self.assertAlmostEqual(row["ratio_r2c"] * row["t_r2c_s"] / row["t_engine_s"], 1,
                                   delta=1e-4)
            self.assertLessEqual(row["t_fft_s"], row["t_r2c_s"])

    def test_engine_takes_the_kernels_that_it_is_told(self):
        row, = self.rows("engine", "--stations", 2, "--channels", 64, "--kernels", "plain")
        self.assertEqual(row["kernels"], "plain")

    def test_kernels(self):
        rows = self.rows("kernels", "--stations", 2, "--channels", 64)
        # the two halves of the way in batches are only there where the machine's kernels have them
        self.assertIn(len({row["kernel"] for row in rows}), (4, 6))
        for row in rows:
            self.check_positive(row)
            self.assertAlmostEqual(row["fraction_of_limit"] * row["limit_per_s"] / row["per_s"], 1,
                                   delta=1e-3)

    def test_rotation(self):
        row, = self.rows("rotation", "--stations", 2, "--channels", 64)
        self.check_positive(row)
        self.assertAlmostEqual(row["samples_per_s_after_fft"] / row["samples_per_s_before_fft"]
                               / row["ratio_before_after"], 1, delta=1e-3)

    def test_wrong_words_are_refused(self):
        for arguments in (("--stations", "two"), ("--channels", 0), ("--channels",), ("--fast",),
                          ("--kernels", "wide")):
            done = run("engine", *arguments)
            self.assertEqual((done.returncode, done.stdout), (2, ""), arguments)
            self.assertIn(str(arguments[-1]), done.stderr)


if __name__ == "__main__":
    unittest.main(verbosity=1)
