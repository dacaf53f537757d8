# SPDX-License-Identifier: GPL-3.0-or-later
"""The proof of all signs at once: a source off the phase centre, imaged with the u, v, w of the
file, stands where it was put.

The delay tables hold the plane-wave delays of the phase centre; the signals are made with those
of the source.
"""

import unittest
from fractions import Fraction

import numpy as np

import geometry
import idi_files
import program
import reference
import signals
from campaign import POSITIONS_M, SOURCE, START, Campaign, Recorded, Station

LOW_HZ, WIDTH_HZ = 8400.0e6, 5.0e5
MAS = np.pi / 180 / 3600e3
OFFSET_MAS = (9.0, 5.0)  # east, north
HOURS = (-3, 0, 3)
EAST_NORTH_SOURCE = geometry.axes(SOURCE["right_ascension_deg"], SOURCE["declination_deg"])
DENSITY = 0.3
SECONDS = Fraction(64, 1000)
NAMES = ("Alder", "Birch", "Cedar", "Damson")


def direction(east_mas, north_mas):
    l, m = east_mas * MAS, north_mas * MAS
    return np.array([l, m, np.sqrt(1 - l * l - m * m)]) @ EAST_NORTH_SOURCE


def receiver(is_complex, sideband):
    if is_complex:
        return signals.Receiver(LOW_HZ + WIDTH_HZ / 2, int(WIDTH_HZ), True, sideband)
    return signals.Receiver(LOW_HZ if sideband > 0 else LOW_HZ + WIDTH_HZ, int(2 * WIDTH_HZ),
                            False, sideband)


class Source:
    """The delay of a direction at a station, near one instant: a parabola through three seconds,
    whose cubic term, 1e-15 s, is far below a wave's period."""

    def __init__(self, name, towards, epoch):
        at = [geometry.plane_delay_s(np.array(POSITIONS_M[name]), towards, epoch + k)
              for k in (-1, 0, 1)]
        self.coefficients = (at[1], (at[2] - at[0]) / 2, (at[2] + at[0]) / 2 - at[1])


class OneInstant(Campaign):
    """A short scan; the delay tables hold the phase centre's parabola."""

    def __init__(self, folder, epoch, **options):
        centre = direction(0.0, 0.0)
        stations = [Station(name, Source(name, centre, epoch).coefficients) for name in NAMES]
        scan = reference.Scan(epoch, Fraction(32, 1000), NAMES, "Ousel")
        super().__init__(folder, stations, {"low": reference.Band(LOW_HZ, WIDTH_HZ)}, [scan],
                         n_channels=64, integration_s=Fraction(32, 1000), epoch=epoch, **options)


class Imaging(program.SystemTest):
    def observe(self, kinds):
        """Visibilities of three instants: u, v, w in s, the means over the band, its centre."""
        uvw, visibility = [], []
        for hour in HOURS:
            epoch = START + 3600 * hour
            made = OneInstant(self.folder, epoch, rotation="before_fft")
            start = epoch - Fraction(24, 1000)
            wave = signals.Wave(np.random.default_rng(hour + 10), LOW_HZ + WIDTH_HZ / 2, WIDTH_HZ,
                                start, SECONDS)
            for k, name in enumerate(NAMES):
                tuned = receiver(*kinds[k])
                offset = Station(name, Source(name, direction(*OFFSET_MAS), epoch).coefficients)
                x = made.hear(np.random.default_rng(40 + k), offset, tuned, [wave], DENSITY,
                              start, SECONDS)
                made.record_vdif(name, [Recorded(tuned, x)], 4, tuned.sample_rate_hz // 125,
                                 start=start)
            self.correlate(made.write(), self.folder / "out.fits")
            file = idi_files.read(self.folder / "out.fits")
            self.check_uvw(file, epoch + Fraction(16, 1000))
            # The delay turns by 1e-4 rad over the band: one number a baseline holds it all. The
            # rate shifts a station's view of the band by up to a channel, so without its ends.
            for row in np.flatnonzero(file.i != file.j):
                uvw.append(file.uvw_s[row])
                visibility.append(np.mean(file.visibility[row, 0, 3:-3, 0]))
        return np.array(uvw), np.array(visibility), np.mean(file.channel_hz[0, 3:-3])

    def check_uvw(self, file, t):
        """r_i - r_j turned to east, north, towards the source; limit 0.1 m, room for the tidal
        terms of UT1 (0.05 ms, 2 cm a thousand km)."""
        turn = EAST_NORTH_SOURCE @ geometry.terrestrial_to_celestial(t)
        at = [turn @ np.array(POSITIONS_M[name]) for name in file.stations]
        want = np.array([at[i] - at[j] for i, j in zip(file.i, file.j)])
        self.check_near("uvw", file.uvw_s * geometry.SPEED_OF_LIGHT_M_PER_S, want, 0.1, "m")

    def image(self, observed):
        """Transform of the visibilities: mean of V exp(-2 pi i nu (u l + v m)) in house sense."""
        uvw_s, visibility, frequency = observed
        axis = np.arange(-12.0, 12.01, 0.25)
        l, m = np.meshgrid(axis * MAS, axis * MAS, indexing="ij")
        map_ = np.zeros(l.shape)
        for (u, v, _), value in zip(uvw_s, visibility):
            map_ += np.real(value * np.exp(-2j * np.pi * frequency * (u * l + v * m)))
        return axis, map_ / len(visibility)

    def check_image(self, kinds):
        """The peak stands within a step and a half of the grid: the beam is about 3 mas wide and
        the noise of the map 1/sqrt(2 B t * 18) = 0.0013, against 0.3. A wrong sign anywhere would
        put it at (-l, -m) or nowhere. Of the coefficient, windows that begin up to a sample apart
        lose 1/3 of 1/64 on average: 2 % for that and 6 sigma.
        """
        axis, map_ = self.image(self.observe(kinds))
        east, north = np.unravel_index(np.argmax(map_), map_.shape)
        self.check_near("east", axis[east], OFFSET_MAS[0], 0.375, "mas")
        self.check_near("north", axis[north], OFFSET_MAS[1], 0.375, "mas")
        eta = 0.988457  # 4 bits; Thompson, Emerson, Schwab 2007, table 1
        self.check_near("coefficient", map_.max(), DENSITY * eta, 0.05 * DENSITY)
        mirrored = map_[::-1, ::-1][east, north]
        self.assertLess(mirrored, 0.75 * map_.max())

    def test_real_upper(self):
        self.check_image([(False, 1)] * 4)

    def test_real_lower(self):
        self.check_image([(False, -1)] * 4)

    def test_complex_upper(self):
        self.check_image([(True, 1)] * 4)

    def test_complex_lower(self):
        self.check_image([(True, -1)] * 4)

    def test_all_kinds_together(self):
        self.check_image([(False, 1), (False, -1), (True, 1), (True, -1)])


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
