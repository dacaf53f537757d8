# SPDX-License-Identifier: GPL-3.0-or-later
"""The stations, band and scan that the tests against the reference share, and how they are
recorded."""

from fractions import Fraction

import numpy as np

import program
import reference
import signals
from campaign import START, Campaign, Recorded, Station

LOW_HZ, WIDTH_HZ = 8400.0e6, 5.0e5
EARLY = START - Fraction(8, 1000)  # a whole frame of every layout before the scan
SECONDS = Fraction(64, 1000)
INTEGRATION = Fraction(16, 1000)  # 250 segments; the last one of the scan has 125
# Alder passes from one nearest sample to the next in the middle of the scan.
ALDER = Station("Alder", (3.123469e-3, 1.5e-6, 3.0e-8), 2.0e-6, 1.0e-8)
BIRCH = Station("Birch", (-1.700213e-3, -1.1e-6, -2.0e-8, 1.0e-9))
CEDAR = Station("Cedar", (0.700011e-3, 0.4e-6), -3.0e-6)
DAMSON = Station("Damson", (-0.2e-3, 0.9e-6))
STATIONS = [ALDER, BIRCH, CEDAR, DAMSON]
REAL, COMPLEX, UPPER, LOWER = False, True, 1, -1


def scan(names, start=START, seconds=Fraction(40, 1000), source="Ousel"):
    return reference.Scan(start, seconds, tuple(names), source)


def receiver(is_complex, sideband, low_hz=LOW_HZ, width_hz=WIDTH_HZ):
    """The receiver of a band from low_hz on."""
    if is_complex:
        return signals.Receiver(low_hz + width_hz / 2, int(width_hz), True, sideband)
    zero = low_hz if sideband > 0 else low_hz + width_hz
    return signals.Receiver(zero, int(2 * width_hz), False, sideband)


class Scene(program.SystemTest):
    """A test that builds campaigns; waves and what is heard of them are made once."""

    waves, heard = {}, {}

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
