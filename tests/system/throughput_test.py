# SPDX-License-Identifier: GPL-3.0-or-later
"""whitefringe throughput: what it says of a machine belongs together. How fast the machine is, no
test can know."""

import json
import math
import os
import unittest
from fractions import Fraction

import numpy as np

import program
import reference
import signals
from campaign import START, Campaign, Recorded, Station

ROW_KEYS = {"stations", "streams", "measured", "samples_per_s_per_stream", "samples_per_s",
            "real_time_factor", "fraction_of_limit"}
SHARES = {"read", "unpack", "transform", "phase", "unpack_early_fft", "late_fft_phase",
          "cross_multiply", "normalise", "other"}
SMALL = ("--channels", 16, "--rate", 1e6, "--integration", 0.002, "--seconds", 0.1)


class Throughput(program.SystemTest):
    def measure(self, *arguments):
        done = program.run("throughput", "--json", *arguments)
        self.assertEqual((done.code, done.err), (0, ""))
        return json.loads(done.out)

    def refused(self, code, text, *arguments):
        done = program.run("throughput", *arguments)
        self.assertEqual((done.code, done.out), (code, ""))
        self.assertTrue(done.err.startswith("whitefringe: "))
        self.assertIn(text, done.err)

    def check_row(self, row, rate_hz):
        self.assertEqual(set(row), ROW_KEYS)
        self.assertIs(row["measured"], True)
        for key in ROW_KEYS - {"measured"}:
            self.assertGreater(row[key], 0, key)
        self.check_near("real time", row["real_time_factor"] * rate_hz,
                        row["samples_per_s_per_stream"], 1e-9 * row["samples_per_s_per_stream"])
        self.check_near("all streams", row["samples_per_s"],
                        row["samples_per_s_per_stream"] * row["streams"],
                        1e-9 * row["samples_per_s"])

    def check_all(self, got, rate_hz):
        self.assertEqual(set(got), {"job", "set_up", "machine", "this_set_up", "time_shares",
                                    "disk", "bottleneck", "table", "stations_in_real_time",
                                    "more_stations_in_real_time"})
        self.check_row(got["this_set_up"], rate_hz)
        self.assertEqual([row["stations"] for row in got["table"]], [2, 4, 8, 16, 32, 64])
        for row in got["table"]:
            self.check_row(row, rate_hz)
        self.assertEqual(set(got["time_shares"]), SHARES)
        self.assertTrue(all(0 <= share <= 1 for share in got["time_shares"].values()))
        self.check_near("all of the time", math.fsum(got["time_shares"].values()), 1, 1e-9)
        self.assertGreater(len(got["bottleneck"]), 20)
        machine = got["machine"]
        self.assertGreater(machine["fma_peak_flops_per_s_per_core"], 1e6)
        self.assertGreater(machine["bare_fft_samples_per_s_per_core"], 1e4)
        self.assertIn(machine["fma_vectors"], ("AVX-512", "AVX2", "plain"))

    def test_set_up_without_a_job(self):
        got = self.measure(*SMALL, "--stations", 3, "--threads", 2, "--bits", 1)
        self.check_all(got, 1e6)
        self.assertIsNone(got["job"])
        self.assertIsNone(got["disk"])
        self.assertEqual(got["set_up"], {
            "stations": 3, "polarizations": 2, "bands": 1, "streams": 6, "channels": 16,
            "products": 4, "sample_rate_hz": 1000000, "bits": 1, "complex": False,
            "edge_hz": 8.4e9, "integration_s": 0.002})
        self.assertEqual(got["machine"]["threads"], 2)
        self.assertEqual(got["this_set_up"]["stations"], 3)
        # The definition: bare transforms of 6 streams of 32 samples, and 6 baselines x 4 products
        # x 16 channels x 8 operations, on two cores, over the time of a segment.
        machine = got["machine"]
        limit_s = (6 * 32 / machine["bare_fft_samples_per_s_per_core"]
                   + 6 * 4 * 16 * 8 / machine["fma_peak_flops_per_s_per_core"]) / 2
        segment_s = 32 / got["this_set_up"]["samples_per_s_per_stream"]
        self.check_near("of the limit", got["this_set_up"]["fraction_of_limit"],
                        limit_s / segment_s, 1e-6 * limit_s / segment_s)

    def test_complex_samples_of_one_polarization(self):
        got = self.measure(*SMALL, "--complex", "--polarizations", 1, "--bands", 2, "--bits", 8,
                           "--edge", 1.4e9)
        self.check_all(got, 1e6)
        self.assertEqual((got["set_up"]["products"], got["set_up"]["streams"]), (1, 4))
        self.assertEqual((got["set_up"]["complex"], got["set_up"]["edge_hz"]), (True, 1.4e9))

    def test_text_names_the_same_things(self):
        done = program.run("throughput", *SMALL)
        self.assertEqual((done.code, done.err), (0, ""))
        for word in ("set-up", "machine", "real time", "bottleneck", "cross-multiply", "64"):
            self.assertIn(word, done.out)
        self.assertLessEqual(max(map(len, done.out.splitlines())), 130)

    def make_job(self):
        """Two stations of 0.2 s, 1 Msample/s."""
        band = reference.Band(8400.0e6, 5.0e5)
        names = ("Alder", "Birch")
        made = Campaign(self.folder, [Station(name, (1e-3, 1e-6)) for name in names],
                        {"low": band}, [reference.Scan(START, Fraction(1, 10), names, "Ousel")],
                        n_channels=32, integration_s=Fraction(16, 1000))
        tuned = signals.Receiver(8400.0e6, 1_000_000, False, 1)
        for k, name in enumerate(names):
            x = signals.noise(np.random.default_rng(k), tuned, 200_000)
            made.record_vdif(name, [Recorded(tuned, x)], 2, 8000)
        return made.write()

    def files(self):
        return {path.relative_to(self.folder): (path.stat().st_mtime_ns, path.read_bytes())
                for path in self.folder.rglob("*") if path.is_file()}

    def test_job_is_read_and_left_alone(self):
        job = self.make_job()
        before = self.files()
        got = self.measure(job, "--seconds", 0.2, "--threads", 1)
        self.check_all(got, 1e6)
        self.assertEqual(self.files(), before)
        self.assertEqual(got["job"], str(job))
        self.assertEqual(got["set_up"]["stations"], 2)
        self.assertEqual((got["set_up"]["channels"], got["set_up"]["bits"]), (32, 2))
        self.assertEqual(got["set_up"]["sample_rate_hz"], 1000000)
        sizes = [path.stat().st_size for path in self.folder.glob("*.vdif")]
        self.assertEqual(got["disk"]["bytes_read"], sum(sizes))
        # 0.2 s of each recording.
        self.check_near("needed", got["disk"]["needed_bytes_per_s"], sum(sizes) / 0.2,
                        1e-6 * sum(sizes) / 0.2)
        self.check_near("disks in real time", got["disk"]["real_time_factor"],
                        got["disk"]["bytes_per_s"] / got["disk"]["needed_bytes_per_s"],
                        1e-9 * got["disk"]["real_time_factor"])

    def test_wrong_words_are_refused(self):
        for text, arguments in (
                ("--bits is", ("--bits", 3)),
                ("--polarizations is", ("--polarizations", 3)),
                ("whole number from 1", ("--stations", 0)),
                ("positive number of hertz", ("--rate", "fast")),
                ("whole number of samples", ("--rate", 0.5)),
                ("either JOB.yaml", ("job.yaml", "--stations", 4)),
                ("--scan is for a job", ("--scan", "S01")),
                ("did you mean --channels", ("--chanels", 4)),
                ("one too many", ("a.yaml", "b.yaml"))):
            self.refused(2, text, *arguments)

    def test_job_at_fault_is_refused_as_everywhere(self):
        self.refused(1, "missing.yaml", self.folder / "missing.yaml")
        job = self.make_job()
        self.refused(1, "S9", job, "--scan", "S9")
        os.truncate(next(self.folder.glob("*.vdif")), 0)
        self.refused(1, ".vdif", job)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
