# SPDX-License-Identifier: GPL-3.0-or-later
"""FITS-IDI files of fringes in closed form, written with astropy: what the report is held against.

The file's sense: a wave that comes to the first station later than the model by dtau (and to the
second in time) has phase +2 pi nu dtau (FITS-IDI as this project writes it: the conjugate of
X_i conj(X_j))."""

from dataclasses import dataclass, field

import numpy as np
from astropy.io import fits

STEP_HZ = 62.5e3


@dataclass
class Fringe:
    """Of one baseline, all bands and products; delay and rate are first minus second station."""

    delay_s: float = 0.0
    rate_s_per_s: float = 0.0
    amplitude: float = 0.0
    phase_rad: float = 0.0
    weight: float = 1.0


@dataclass
class Scan:
    start_s: float
    n_times: int
    source: int = 1


@dataclass
class Contents:
    stations: tuple = ("Alder", "Birch")
    sources: tuple = ("Ousel",)
    first_hz: tuple = (8.4e9,)
    n_channels: int = 64
    products: tuple = (-1, 1)
    scans: tuple = (Scan(43200.0, 16),)
    interval_s: float = 0.5
    sigma: float = 0.0
    seed: int = 1
    fringes: dict = field(default_factory=dict)
    station_phase_rad: object = None  # of (station from 0, s since the start of the scan)
    history: tuple = ()
    clocks: tuple = ()  # (time in s of the day, station from 1, ahead_s, rate_s_per_s)
    flags: tuple = ()   # stations from 1, 0 for all


def _cards(header, contents, name):
    first_code, n_products = contents.products
    for key, value in (("EXTNAME", name), ("EXTVER", 1), ("TABREV", 1), ("OBSCODE", "Forest-7"),
                       ("NO_STKD", n_products), ("STK_1", first_code),
                       ("NO_BAND", len(contents.first_hz)), ("NO_CHAN", contents.n_channels),
                       ("REF_FREQ", contents.first_hz[0]), ("CHAN_BW", STEP_HZ),
                       ("REF_PIXL", 1.0), ("RDATE", "2026-03-01")):
        header[key] = value


def _table(contents, name, columns, **keys):
    table = fits.BinTableHDU.from_columns(
        [fits.Column(name=n, format=f, array=np.asarray(a)) for n, f, a in columns])
    _cards(table.header, contents, name)
    for key, value in keys.items():
        table.header[key.replace("_", "-") if key == "DATE_OBS" else key] = value
    return table


def _rows(contents):
    """One row a baseline and time, in order of time: (time, source, i, j, visibilities, weight)."""
    generator = np.random.default_rng(contents.seed)
    nu = np.asarray(contents.first_hz)[:, None] + STEP_HZ * np.arange(contents.n_channels)
    middle_hz = nu.mean(axis=1, keepdims=True)
    n = len(contents.stations)
    for scan in contents.scans:
        length_s = scan.n_times * contents.interval_s
        for k in range(scan.n_times):
            t = (k + 0.5) * contents.interval_s
            for i in range(n):
                for j in range(i, n):
                    fringe = contents.fringes.get((i, j), Fringe())
                    turns = ((nu - middle_hz) * fringe.delay_s
                             + nu * fringe.rate_s_per_s * (t - length_s / 2))
                    phase = fringe.phase_rad
                    if contents.station_phase_rad and i != j:
                        phase += (contents.station_phase_rad(i, t)
                                  - contents.station_phase_rad(j, t))
                    # the house sense has minus; the file holds the conjugate of it
                    v = fringe.amplitude * np.exp(2j * np.pi * turns - 1j * phase)[..., None]
                    v = np.repeat(v, contents.products[1], axis=2)
                    if i == j:
                        v = np.ones_like(v)
                    elif contents.sigma:
                        v = v + contents.sigma * (generator.standard_normal(v.shape)
                                                  + 1j * generator.standard_normal(v.shape))
                    yield scan.start_s + t, scan.source, i, j, v, fringe.weight


def _extras(contents):
    """The convention counts a clock that is ahead as negative (AIPS Memo 114, MODEL_COMPS)."""
    tables = []
    if contents.clocks:
        time_s, station, ahead_s, rate = (np.array(x) for x in zip(*contents.clocks))
        ones = np.ones(len(time_s))
        tables.append(_table(contents, "MODEL_COMPS", [
            ("TIME", "1D", time_s / 86400), ("SOURCE_ID", "1J", ones), ("ANTENNA_NO", "1J", station),
            ("ARRAY", "1J", ones), ("FREQID", "1J", ones), ("CLOCK_1", "1D", -ahead_s),
            ("DCLOCK_1", "1D", -rate)]))
    if contents.flags:
        zeros = np.zeros((len(contents.flags), 2))
        tables.append(_table(contents, "FLAG", [
            ("SOURCE_ID", "1J", zeros[:, 0]), ("ANTS", "2J", np.stack(
                [np.array(contents.flags), zeros[:, 0]], axis=1)),
            ("TIMERANG", "2E", zeros), ("REASON", "40A", ["wind"] * len(contents.flags))]))
    return tables


def write(path, contents):
    n_bands, n_stations = len(contents.first_hz), len(contents.stations)
    first_code, n_products = contents.products
    primary = fits.PrimaryHDU()
    for key, value in (("EXTEND", True), ("GROUPS", True), ("GCOUNT", 0), ("PCOUNT", 0)):
        primary.header[key] = value
    for line in contents.history:
        primary.header["HISTORY"] = line
    numbers = np.arange(1, n_stations + 1)
    zeros = np.zeros(n_stations)
    geometry = _table(contents, "ARRAY_GEOMETRY", [
        ("ANNAME", "8A", contents.stations), ("STABXYZ", "3D", 6.4e6 * np.ones((n_stations, 3))),
        ("DERXYZ", "3E", np.zeros((n_stations, 3))), ("NOSTA", "1J", numbers),
        ("MNTSTA", "1J", zeros), ("STAXOF", "3E", np.zeros((n_stations, 3)))],
        ARRNAM="Forest", FRAME="GEOCENTRIC", ARRAYX=0.0, ARRAYY=0.0, ARRAYZ=0.0, NUMORB=0,
        FREQ=contents.first_hz[0], TIMSYS="UTC", TIMESYS="UTC", GSTIA0=0.0, DEGPDY=360.98,
        UT1UTC=0.0, IATUTC=37.0, POLARX=0.0, POLARY=0.0)
    antenna = _table(contents, "ANTENNA", [
        ("TIME", "1D", zeros), ("TIME_INTERVAL", "1E", zeros + 1),
        ("ANNAME", "8A", contents.stations), ("ANTENNA_NO", "1J", numbers),
        ("ARRAY", "1J", zeros + 1), ("FREQID", "1J", zeros + 1), ("NO_LEVELS", "1J", zeros + 4),
        ("POLTYA", "1A", ["R"] * n_stations), ("POLAA", f"{n_bands}E", np.zeros((n_stations, n_bands))),
        ("POLTYB", "1A", ["L"] * n_stations), ("POLAB", f"{n_bands}E", np.zeros((n_stations, n_bands)))],
        NOPCAL=0, POLTYPE="APPROX")
    frequency = _table(contents, "FREQUENCY", [
        ("FREQID", "1J", [1]),
        ("BANDFREQ", f"{n_bands}D", [np.asarray(contents.first_hz) - contents.first_hz[0]]),
        ("CH_WIDTH", f"{n_bands}E", [[STEP_HZ] * n_bands]),
        ("TOTAL_BANDWIDTH", f"{n_bands}E", [[STEP_HZ * contents.n_channels] * n_bands]),
        ("SIDEBAND", f"{n_bands}J", [[1] * n_bands])])
    n_sources = len(contents.sources)
    source = _table(contents, "SOURCE", [
        ("SOURCE_ID", "1J", np.arange(1, n_sources + 1)), ("SOURCE", "16A", contents.sources),
        ("RAEPO", "1D", np.full(n_sources, 151.0)), ("DECEPO", "1D", np.full(n_sources, 31.0)),
        ("EQUINOX", "8A", ["J2000"] * n_sources)])
    rows = list(_rows(contents))
    n = len(rows)
    flux = np.stack([row[4].transpose(0, 1, 2) for row in rows]).astype(np.complex64)
    weight = np.stack([np.full((n_bands, n_products), row[5]) for row in rows])
    uv = _table(contents, "UV_DATA", [
        ("UU---SIN", "1D", np.zeros(n)), ("VV---SIN", "1D", np.zeros(n)),
        ("WW---SIN", "1D", np.zeros(n)), ("DATE", "1D", np.full(n, 2461100.5)),
        ("TIME", "1D", [row[0] / 86400 for row in rows]),
        ("BASELINE", "1J", [256 * (row[2] + 1) + row[3] + 1 for row in rows]),
        ("SOURCE_ID", "1J", [row[1] for row in rows]), ("FREQID", "1J", np.ones(n)),
        ("INTTIM", "1E", np.full(n, contents.interval_s)),
        ("WEIGHT", f"{n_bands * n_products}E", weight.reshape(n, -1)),
        ("FLUX", f"{2 * n_bands * contents.n_channels * n_products}E",
         flux.view(np.float32).reshape(n, -1))],
        NMATRIX=1, MAXIS=6)
    axes = (("COMPLEX", 2, 1.0, 1.0), ("STOKES", n_products, -1.0, float(first_code)),
            ("FREQ", contents.n_channels, STEP_HZ, contents.first_hz[0]),
            ("BAND", n_bands, 1.0, 1.0), ("RA", 1, 0.0, 0.0), ("DEC", 1, 0.0, 0.0))
    for number, (name, size, step, value) in enumerate(axes, 1):
        uv.header[f"MAXIS{number}"] = size
        uv.header[f"CTYPE{number}"] = name
        uv.header[f"CDELT{number}"] = step
        uv.header[f"CRPIX{number}"] = 1.0
        uv.header[f"CRVAL{number}"] = value
    uv.header["TMATX11"] = True
    uv.header["TABREV"] = 2
    fits.HDUList([primary, geometry, source, antenna, frequency, uv, *_extras(contents)]).writeto(
        path, overwrite=True)
