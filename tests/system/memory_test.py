# SPDX-License-Identifier: GPL-3.0-or-later
"""Two gigabytes of recordings correlate in little memory, memory-mapped pages counted in."""

import os
import resource
import subprocess
import unittest
from fractions import Fraction

import numpy as np

import jobs
import program
import reference
import vdif_files
from campaign import START, Campaign, Station

FS = 64_000_000
SECONDS = 8
FRAME_SAMPLES = 64_000  # of 16 bits: 128 000 bytes a frame, 1.02 GB a station
LIMIT_BYTES = 500_000_000


def write_sparse(path, seed):
    """All headers are written; one frame in 100 has noise, the payload of the others is a hole in
    the file, which reads as zeros: the most negative level."""
    layout = vdif_files.Layout(START, FS, 16, samples_per_frame=FRAME_SAMPLES)
    payload = np.random.default_rng(seed).integers(0, 1 << 16, FRAME_SAMPLES, dtype=np.uint16)
    frame_bytes = 32 + 2 * FRAME_SAMPLES
    with open(path, "wb") as file:
        for index in range(SECONDS * FS // FRAME_SAMPLES):
            epoch, second, frame = layout.frame_time(index)
            file.seek(index * frame_bytes)
            file.write(vdif_files.header(second, frame, frame_bytes, 16, epoch=epoch))
            if index % 100 == 0:
                file.write(payload.tobytes())
        file.truncate(SECONDS * FS // FRAME_SAMPLES * frame_bytes)


class Memory(program.SystemTest):
    def make(self):
        names = ("Alder", "Birch")
        made = Campaign(self.folder, [Station(name, (1e-5 * k, 1e-7)) for k, name in
                                      enumerate(names)],
                        {"low": reference.Band(8400.0e6, FS / 2)},
                        [reference.Scan(START, Fraction(SECONDS), names, "Ousel")],
                        n_channels=256, integration_s=Fraction(1, 10))
        job = made.job()
        for seed, name in enumerate(names):
            write_sparse(self.folder / f"{name}.vdif", seed)
            job["recordings"].append({
                "station": name, "files": [f"{name}.vdif"], "format": "vdif",
                "sample_rate_hz": FS, "streams": [{"band": "low", "polarization": "R"}]})
        jobs.write(self.folder / "job.yaml", job)

    def test_two_gigabytes_stay_on_the_disk(self):
        self.make()
        total = sum(path.stat().st_size for path in self.folder.glob("*.vdif"))
        self.assertGreater(total, 2.0e9)
        done = subprocess.run([os.environ["WF_PROGRAM"], "correlate", self.folder / "job.yaml",
                               "-o", self.folder / "out.fits", "--threads", "2"],
                              capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        # The largest of all children; no earlier one came near.
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024
        print(f"{total / 1e9:.2f} GB of recordings, {peak / 1e6:.0f} MB resident at most",
              flush=True)
        self.assertLess(peak, LIMIT_BYTES)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
