# SPDX-License-Identifier: GPL-3.0-or-later
"""Disks that fail while they are read: the run ends with the station and the place, or, when told
to keep going, counts as lost what could not be read; never a wrong visibility. The failures are
made by support/failing_reads.c, loaded before the C library."""

import json
import os
import unittest

import numpy as np

import idi_files
import jobs
import program
from recording_faults_test import LEAD, N_FRAMES, N_INTEGRATIONS, RecordingFaults


class FailingReads(RecordingFaults):
    def run_failing(self, how, *options, begin=0, end=0):
        jobs.write(self.folder / "job.yaml", self.job)
        return program.run("correlate", self.folder / "job.yaml", "-o", self.folder / "out.fits",
                           "--json", *options,
                           environment={"LD_PRELOAD": os.environ["WF_FAILING_READS"],
                                        "WF_FAIL_FILE": self.alder.name, "WF_FAIL_HOW": how,
                                        "WF_FAIL_FROM": str(begin), "WF_FAIL_TO": str(end)})

    def check_machine_failed(self, done):
        self.assertEqual(done.code, 3, done.err)
        for word in ("Alder", self.alder.name, "byte", "Input/output error"):
            self.assertIn(word, done.err)
        self.assertFalse((self.folder / "out.fits").exists())

    def test_bytes_that_cannot_be_read(self):
        _, clean, _ = self.run_job()
        (self.folder / "out.fits").unlink()
        n = len(self.frames[0])
        begin, end = 40 * n + 60, 42 * n + 10  # within frames 40 to 42, payload only of the first
        self.check_machine_failed(self.run_failing("eio", begin=begin, end=end))
        done = self.run_failing("eio", "--keep-going", begin=begin, end=end)
        self.assertEqual(done.code, 0, done.err)
        got = idi_files.read(self.folder / "out.fits")
        report = json.loads(done.out)
        lost = {40, 41, 42}
        self.check_file(got, clean, self.valid_fractions(lost))
        kinds = {f["kind"] for f in report["faults"] if f["station"] == "Alder"}
        self.assertTrue(kinds & {"read_error", "bad_header"}, kinds)

    def test_short_reads_change_nothing(self):
        _, clean, _ = self.run_job()
        done = self.run_failing("short")
        self.assertEqual(done.code, 0, done.err)
        self.check_file(idi_files.read(self.folder / "out.fits"), clean, np.ones(N_INTEGRATIONS))

    def test_a_disk_pulled(self):
        """After so many reads none succeeds: while opening, while reading."""
        _, clean, _ = self.run_job()
        (self.folder / "out.fits").unlink()
        n_open = 5
        self.check_machine_failed(self.run_failing("pulled", begin=n_open))
        n_reads = 0
        for step in (400, 100, 20, 4, 1):  # the largest number of reads with which it still fails
            while self.run_failing("pulled", begin=n_reads + step).code != 0:
                n_reads += step
        (self.folder / "out.fits").unlink(missing_ok=True)
        self.check_machine_failed(self.run_failing("pulled", begin=n_reads))
        done = self.run_failing("pulled", "--keep-going", begin=n_reads)
        self.assertEqual(done.code, 0, done.err)
        stream = json.loads(done.out)["streams"][0]
        self.assertGreater(stream["lost_fraction"]["read_error"], 0.0)
        got = idi_files.read(self.folder / "out.fits")
        for row, other in zip(got.rows("Birch", "Birch"), clean.rows("Birch", "Birch")):
            self.assertEqual(got.visibility[row].tobytes(), clean.visibility[other].tobytes())


def load_tests(loader, _tests, _pattern):
    """Its own tests only, not those that it inherits."""
    return unittest.TestSuite(FailingReads(name) for name in loader.getTestCaseNames(FailingReads)
                              if name in vars(FailingReads))


if __name__ == "__main__":
    program.scratch()
    assert LEAD < N_FRAMES
    unittest.main(verbosity=1)
