# SPDX-License-Identifier: GPL-3.0-or-later
"""The program under test, a scratch folder, and checks that say what they saw."""

import os
import shutil
import subprocess
import unittest
from dataclasses import dataclass
from pathlib import Path

import numpy as np


def scratch():
    """A fresh scratch folder for this test program."""
    folder = Path(os.environ["WF_SCRATCH"])
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder


@dataclass
class Outcome:
    code: int
    out: str
    err: str


def run(*arguments, before=None, timeout_s=280, user=None, environment=None):
    """Run a verb. before: called in the child before the program starts."""
    done = subprocess.run([os.environ["WF_PROGRAM"], *map(str, arguments)], capture_output=True,
                          text=True, timeout=timeout_s, preexec_fn=before, user=user,
                          env={**os.environ, **(environment or {})}, check=False)
    return Outcome(done.returncode, done.stdout, done.stderr)


def mount_small(folder, n_bytes):
    """Mount a memory disk of n_bytes; returns 0 if that worked."""
    return subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={n_bytes}", "tmpfs", folder],
                          capture_output=True, check=False).returncode


def unmount(folder):
    subprocess.run(["umount", folder], capture_output=True, check=False)


class SystemTest(unittest.TestCase):
    """A test with a folder of its own; the folder of one that passes is removed."""

    def setUp(self):
        self.folder = Path(os.environ["WF_SCRATCH"]) / self.id().split(".", 1)[-1]
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True)

    def tearDown(self):
        outcome = self._outcome
        failed = any(test is self for test, _ in outcome.result.failures + outcome.result.errors)
        if not failed:
            shutil.rmtree(self.folder, ignore_errors=True)

    def correlate(self, job, output, *options):
        done = run("correlate", job, "-o", output, *options)
        self.assertEqual(done.code, 0, f"correlate failed:\n{done.err}\n{done.out}")
        return done

    def check_near(self, what, got, want, limit, unit=""):
        """Largest absolute difference under a limit; the worst element is printed."""
        got, want = np.broadcast_arrays(np.asarray(got), np.asarray(want))
        difference = np.atleast_1d(np.abs(got - want))
        if not np.all(np.isfinite(difference)):
            self.fail(f"{what}: not finite")
        worst = np.unravel_index(np.argmax(difference), difference.shape)
        if difference[worst] > limit:
            self.fail(f"{what}: got {np.atleast_1d(got)[worst]}, want "
                      f"{np.atleast_1d(want)[worst]}, difference {difference[worst]:.3e}, limit "
                      f"{limit:.3e} {unit} at {tuple(int(k) for k in worst)}")
        return float(difference[worst])
