# SPDX-License-Identifier: GPL-3.0-or-later
"""The same correlation as a user would write it by hand, vectorised over blocks of segments with
numpy and scipy on one thread, against the engine. The same samples are what both get: two-bit
real ones of two polarizations, packed in memory, of stations that move; out come all products,
summed.

    python3 -B bench/numpy_fx.py [--json] [--build build] [--stations 2,4,8,16] [--channels 1024]
"""

import argparse
import json
import os
import subprocess
import sys
import time
from pathlib import Path

for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[variable] = "1"

import numpy as np  # noqa: E402  (after the number of threads is set)
import scipy.fft  # noqa: E402

POLARIZATIONS = 2
FINE = 16  # channels of the finer table of phasors
LEVELS = np.array([-3.3359, -1.0, 1.0, 3.3359], np.float32)
# A byte holds four samples, the first in its lowest bits.
TABLE = LEVELS[np.arange(256)[:, None] >> np.arange(0, 8, 2) & 3]


def choose_block(n_streams, n_channels):
    """Segments whose spectra stay in a core's cache; found best by trial at 1024 channels."""
    return max(8, min(256, (1 << 20) // (8 * n_streams * n_channels)))


class HandMade:
    def __init__(self, n_stations, n_channels, n_segments):
        self.n_streams, self.n_channels = n_stations * POLARIZATIONS, n_channels
        self.block = choose_block(self.n_streams, n_channels)
        self.n_segments = max(1, n_segments // self.block) * self.block
        rng = np.random.default_rng(1)
        self.packed = rng.integers(0, 256, (self.n_streams, self.n_segments * n_channels // 2),
                                   np.uint8)
        # Of each station: samples by which its delay changes in a segment, as on the Earth, and
        # turns of its fringes.
        self.drift = rng.uniform(-3e-6, 3e-6, n_stations) * 2 * n_channels
        self.rate = rng.uniform(-1, 1, n_stations)

    @property
    def n_samples(self):
        return self.n_streams * self.n_segments * 2 * self.n_channels

    def turns(self, station, segment):
        """Of each segment: at channel 0, and from channel to channel by the rest of its delay, of
        half a sample at most."""
        delay = self.drift[station] * segment
        return (-self.rate[station] * segment) % 1, (delay - np.rint(delay)) / (2 * self.n_channels)

    def phasors(self, station, first):
        """[segment][channel] of a block: fractional delay and fringe phase."""
        start, step = self.turns(station, np.arange(first, first + self.block))
        return self.phasors_of(start[:, None], step).astype(np.complex64)

    def phasors_of(self, start, step):
        return np.exp(2j * np.pi * (start + np.outer(step, np.arange(self.n_channels))))

    def spectra(self, stream, first):
        """[segment][channel] of a block: unpack and transform."""
        n_bytes = self.n_channels // 2
        packed = self.packed[stream, first * n_bytes:(first + self.block) * n_bytes]
        x = TABLE[packed].reshape(self.block, 2 * self.n_channels)
        return scipy.fft.rfft(x, workers=1)[:, :self.n_channels]

    def run(self):
        sums = np.zeros((self.n_channels, self.n_streams, self.n_streams), np.complex64)
        spectra = np.empty((self.n_channels, self.n_streams, self.block), np.complex64)
        for first in range(0, self.n_segments, self.block):
            for stream in range(self.n_streams):
                if stream % POLARIZATIONS == 0:
                    phasors = self.phasors(stream // POLARIZATIONS, first)
                spectra[:, stream] = (self.spectra(stream, first) * phasors).T
            sums += spectra @ spectra.conj().transpose(0, 2, 1)
        return sums


class Tuned(HandMade):
    """Phasors as products of two short tables, which fewer would think of."""

    def phasors_of(self, start, step):
        fine = np.exp(2j * np.pi * np.outer(step, np.arange(FINE))).astype(np.complex64)
        coarse = np.exp(2j * np.pi * (start + np.outer(
            step, np.arange(0, self.n_channels, FINE)))).astype(np.complex64)
        return (coarse[:, :, None] * fine[:, None, :]).reshape(self.block, -1)


def check(kind, n_channels=16):
    """The sums are those of a plain double loop in double precision; single precision keeps 1e-5
    of the largest of them."""
    made = kind(2, n_channels, 64)
    got = made.run()
    x = LEVELS[made.packed[:, :, None] >> np.arange(0, 8, 2) & 3].astype(float)
    x = x.reshape(made.n_streams, made.n_segments, 2 * n_channels)
    want = np.zeros_like(got, dtype=complex)
    for k in range(made.n_segments):
        y = np.fft.rfft(x[:, k])[:, :n_channels]
        start, step = made.turns(np.arange(made.n_streams) // POLARIZATIONS, k)
        y *= np.exp(2j * np.pi * (start[:, None] + np.outer(step, np.arange(n_channels))))
        want += np.einsum("ic,jc->cij", y, y.conj())
    if np.max(np.abs(got - want)) > 1e-5 * np.max(np.abs(want)):
        sys.exit("numpy_fx.py: its own sums are wrong")


def engine_s_per_sample(build, n_stations, n_channels):
    """Of an integration as long as those of bench/engine; numpy's rate does not depend on it."""
    done = subprocess.run([build / "bench" / "rotation", "--json", "--stations",
                           str(n_stations), "--channels", str(n_channels)],
                          capture_output=True, text=True, check=True)
    got = json.loads(done.stdout)
    return 1 / got["samples_per_s_after_fft"], got["kernels"]


def hand_made_s_per_sample(made):
    begin = time.thread_time()
    made.run()
    return (time.thread_time() - begin) / made.n_samples


def measure(build, n_stations, n_channels, repeats=9):
    """By turns; ratios are medians of those of neighbours: what slows the machine down for longer
    drops out."""
    kinds = (HandMade, Tuned)
    made = [kind(n_stations, n_channels, (1 << 23) // (4 * n_stations * n_channels))
            for kind in kinds]
    engine, numpy_s = [], [[] for _ in kinds]
    for m in made:
        m.run()
    for _ in range(repeats):
        seconds, kernels = engine_s_per_sample(build, n_stations, n_channels)
        engine.append(seconds)
        for m, taken in zip(made, numpy_s):
            taken.append(hand_made_s_per_sample(m))
    ratios = [float(np.median(np.divide(taken, engine))) for taken in numpy_s]
    return {"stations": n_stations, "channels": n_channels,
            "engine_samples_per_s": 1 / float(np.median(engine)),
            "numpy_samples_per_s": 1 / float(np.median(numpy_s[0])),
            "ratio_numpy": ratios[0], "ratio_numpy_tuned": ratios[1], "kernels": kernels}


def numbers(text):
    return [int(word) for word in text.split(",")]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--build", type=Path, default=Path("build"))
    parser.add_argument("--stations", type=numbers, default=[2, 4, 8, 16])
    parser.add_argument("--channels", type=numbers, default=[1024])
    asked = parser.parse_args()
    for kind in (HandMade, Tuned):
        check(kind)
    for n_channels in asked.channels:
        for n_stations in asked.stations:
            row = measure(asked.build, n_stations, n_channels)
            if asked.json:
                print(json.dumps(row), flush=True)
            else:
                print("{stations:3} stations {channels:6} channels  engine "
                      "{engine_samples_per_s:9.3g}  numpy {numpy_samples_per_s:9.3g} samples/s  "
                      "ratio {ratio_numpy:6.1f}, to the tuned one {ratio_numpy_tuned:6.1f}  {kernels}".format(**row), flush=True)


if __name__ == "__main__":
    main()
