# SPDX-License-Identifier: GPL-3.0-or-later
"""FITS-IDI files read with astropy into plain arrays, in the house sense: the conjugate of what
the file holds."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from astropy.io import fits

import times

SPEED_OF_LIGHT_M_PER_S = 299792458.0
_PRODUCT_CODES = {-1: "RR", -2: "LL", -3: "RL", -4: "LR", -5: "XX", -6: "YY", -7: "XY", -8: "YX"}


@dataclass
class File:
    """visibility [n_rows][n_bands][n_channels][n_products]; weight [n_rows][n_bands][n_products];
    uvw_s [n_rows][3]; channel_hz [n_bands][n_channels]; middle: exact instants, rounded to 1 ns.
    """

    stations: list
    sources: list
    products: list
    channel_hz: np.ndarray
    i: np.ndarray
    j: np.ndarray
    source: np.ndarray
    middle: list
    length_s: np.ndarray
    uvw_s: np.ndarray
    visibility: np.ndarray
    weight: np.ndarray
    positions_m: np.ndarray
    history: list

    def rows(self, i, j):
        """Indices of the rows of a baseline, in time order."""
        first, second = self.stations.index(i), self.stations.index(j)
        return np.flatnonzero((self.i == first) & (self.j == second))


def _middle(date, time):
    """DATE is the Julian date of 0h, TIME the days since."""
    mjd = int(round(float(date) - 2400000.5))
    nanoseconds = round(float(time) * 86400.0e9)
    return times.of_mjd(mjd) + Fraction(nanoseconds, 10**9)


def read(path):
    with fits.open(path, memmap=False) as file:
        tables = {}
        for unit in file[1:]:
            tables.setdefault(unit.name, []).append(unit)
        data, array = tables["UV_DATA"][0], tables["ARRAY_GEOMETRY"][0].data
        frequency, head = tables["FREQUENCY"][0].data, data.header
        n_bands, n_channels = head["NO_BAND"], head["NO_CHAN"]
        n_products = head["NO_STKD"]
        offset = np.asarray(frequency["BANDFREQ"][0], dtype=float).reshape(n_bands)
        width = np.asarray(frequency["CH_WIDTH"][0], dtype=float).reshape(n_bands)
        channel = np.arange(1, n_channels + 1) - head["REF_PIXL"]
        channel_hz = head["REF_FREQ"] + offset[:, None] + channel * width[:, None]
        table = data.data
        flux = np.asarray(table["FLUX"], dtype=np.float32).reshape(
            len(table), n_bands, n_channels, n_products, 2)
        numbers = list(array["NOSTA"])
        baseline = np.asarray(table["BASELINE"], dtype=int)
        place = {number: index for index, number in enumerate(numbers)}
        return File(
            stations=[name.strip() for name in array["ANNAME"]],
            sources=[name.strip() for name in tables["SOURCE"][0].data["SOURCE"]],
            products=[_PRODUCT_CODES[head["STK_1"] - k] for k in range(n_products)],
            channel_hz=channel_hz,
            i=np.array([place[b // 256] for b in baseline]),
            j=np.array([place[b % 256] for b in baseline]),
            source=np.asarray(table["SOURCE_ID"], dtype=int) - 1,
            middle=[_middle(d, t) for d, t in zip(table["DATE"], table["TIME"])],
            length_s=np.asarray(table["INTTIM"], dtype=float),
            uvw_s=np.stack([np.asarray(table[name], dtype=float)
                            for name in ("UU---SIN", "VV---SIN", "WW---SIN")], axis=1),
            visibility=flux[..., 0].astype(float) - 1j * flux[..., 1].astype(float),
            weight=np.asarray(table["WEIGHT"], dtype=float).reshape(
                len(table), n_bands, n_products),
            positions_m=np.asarray(array["STABXYZ"], dtype=float),
            history=[str(line) for line in file[0].header.get("HISTORY", [])])
