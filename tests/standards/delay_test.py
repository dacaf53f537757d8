# SPDX-License-Identifier: GPL-3.0-or-later
"""The library's vacuum delay against an independent one (delay_reference.py), over a year."""
import os
import subprocess
import sys

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import delay_reference as ref  # noqa: E402

PROGRAM = os.path.join(os.environ['WF_BUILD'], 'tests', 'standards', 'delay_values')
FIRST_MJD, N_DAYS = 57600, 372  # 2016-07-31 on; 2017-01-01 brought a leap second
LEAP_MJD = 57754
N_EPOCHS = 150
# invented stations: m, m/year, epoch
STATIONS = [
    ([4254490.25, -2596951.5, 3966574.75], [0.0123, -0.0184, 0.0092], 2015.0),
    ([-3129916.125, -5229709.5, -1874017.25], [0.0215, 0.0470, -0.0280], 2010.0),
    ([141718.5, 4774987.25, -4212909.125], [-0.0310, 0.0040, 0.0390], 2015.0),
    ([2959247.5, 5495919.75, 1306585.25], [0.0260, -0.0130, 0.0140], 2020.5),
    ([-3853957.0, 596624.0, 5030177.0], [0.0, 0.0, 0.0], 2015.0),
    ([2045190.75, -157368.5, 6019551.25], [-0.0170, 0.0090, 0.0060], 2005.0),
]
LIMIT_S = 0.05e-12
# the terms of gravity, and their limits: above the rounding of ERFA's places of the bodies (1e-8 ps),
# below what the body's place at closest approach makes (1e-5 ps for Jupiter)
PARTS = {'geometry': LIMIT_S / 5, 'Sun': 1e-18, 'Moon and planets': 1e-18, 'Earth': 1e-18}
# the reference knows these alone; the parts are sums of them
SWITCHES = ['station_velocity', 'celestial_pole_offsets', 'gravity_sun', 'gravity_planets',
            'gravity_earth']
SUMS = [['geometry', 'station_velocity', 'celestial_pole_offsets'], ['gravity_sun'],
        ['gravity_planets'], ['gravity_earth']]


def invented_orientation(rng):
    """Smooth drifts with the day-to-day noise of real series; UT1-UTC steps by 1 s at the leap."""
    i = np.arange(N_DAYS)
    as2r = np.pi / 648000
    x = (0.12 + 0.1 * np.sin(i / 69) + 2e-4 * rng.standard_normal(N_DAYS)) * as2r
    y = (0.35 + 0.1 * np.cos(i / 69) + 2e-4 * rng.standard_normal(N_DAYS)) * as2r
    ut1 = -0.25 - 0.0012 * i + 3e-4 * np.sin(i / 2.2) + 1e-5 * rng.standard_normal(N_DAYS)
    ut1 += np.where(i + FIRST_MJD >= LEAP_MJD, 1.0, 0.0)
    dx, dy = 2e-4 * as2r * rng.standard_normal((2, N_DAYS))
    return np.stack([x, y, ut1, dx, dy], axis=1)


def epochs(rng):
    """Random ones, and some about midnight and the leap second."""
    some = [ref.Time(FIRST_MJD + 1, 0), ref.Time(FIRST_MJD + 180, '86399.999999'),
            ref.Time(LEAP_MJD - 1, '86400.5'), ref.Time(LEAP_MJD, '0.25')]
    for _ in range(N_EPOCHS - len(some)):
        us = int(rng.integers(0, 86400 * 10**6))
        some.append(ref.Time(FIRST_MJD + int(rng.integers(1, N_DAYS - 3)), ref.L(us) / 10**6))
    return some


def library(commands):
    done = subprocess.run([PROGRAM], input='\n'.join(commands) + '\n', text=True,
                          capture_output=True)
    assert done.returncode == 0, done.stderr
    return [line.split() for line in done.stdout.splitlines()]


def setup(orientation, sources):
    commands = ['fields -', 'switch all 0'] + ['switch %s 1' % name for name in SWITCHES]
    commands += ['station ' + ' '.join('%.17g' % v for v in [*x, *v, epoch])
                for x, v, epoch in STATIONS]
    commands += ['source %.17g %.17g' % tuple(s) for s in sources]
    commands += ['day %d ' % (FIRST_MJD + i) + ' '.join('%.17g' % v for v in row)
                 for i, row in enumerate(orientation)]
    return commands


def check(name, differences_s, limit_s):
    worst = float(np.max(np.abs(differences_s)))
    rms = float(np.sqrt(np.mean(np.square(differences_s, dtype=float))))
    print('%-28s %6d values, rms %.2e ps, worst %.2e ps, limit %.1e ps'
          % (name, np.size(differences_s), rms * 1e12, worst * 1e12, limit_s * 1e12))
    assert worst <= limit_s, name


def compare_stations(times, sources, orientation, got):
    """Every term of every station against the geocentre."""
    differences, shifts = [], []
    for i, t in enumerate(times):
        bodies = ref.Bodies(t)
        k = ref.unit(*sources[i])
        for j, station in enumerate(STATIONS):
            x, w = ref.station_gcrs(ref.itrf_at(*station, t), t, orientation)
            want = ref.vacuum_delay(k, np.zeros(3, ref.L), x, w, bodies)
            row = got[i * len(STATIONS) + j]
            have = np.array([sum(ref.L(row[name]) for name in names) for names in SUMS])
            differences.append(have - want)
            a, d = sources[i]
            east = np.array([-np.sin(a), np.cos(a), 0])
            north = np.array([-np.sin(d) * np.cos(a), -np.sin(d) * np.sin(a), np.cos(d)])
            uvw = np.array([ref.dot(x, east), ref.dot(x, north), ref.dot(x, k)])
            shifts.append(np.array([ref.L(row[v]) for v in 'uvw']) - uvw)
    differences = np.array(differences)
    for n, (part, limit_s) in enumerate(PARTS.items()):
        check(part, differences[:, n], limit_s)
    check('whole delay of a station', np.sum(differences, axis=1), LIMIT_S)
    check('u, v, w in light time', np.array(shifts) / ref.C, LIMIT_S)


def compare_baselines(times, sources, orientation, got):
    """Eq. 11.9 in its own form: the delay of a baseline at the arrival at its first station.

    The two forms differ in terms of the next order, up to 0.034 ps (28 226 real observations).
    """
    differences = []
    for i, t in enumerate(times):
        k = ref.unit(*sources[i])
        tau = [ref.L(got[i * len(STATIONS) + j]['tau']) for j in range(len(STATIONS))]
        for a in range(0, len(STATIONS) - 1):
            arrival = t.later(tau[a])
            if i < 4 or not 1 < arrival.seconds < 86399:
                continue  # the reference does not carry its times across midnight
            bodies = ref.Bodies(arrival)
            x1, _ = ref.station_gcrs(ref.itrf_at(*STATIONS[a], arrival), arrival, orientation)
            b = a + 1
            x2, w2 = ref.station_gcrs(ref.itrf_at(*STATIONS[b], arrival), arrival, orientation)
            want = np.sum(ref.vacuum_delay(k, x1, x2, w2, bodies))
            differences.append(tau[b] - tau[a] - want)
    check('baselines, eq. 11.9', np.array(differences), LIMIT_S)


def main():
    rng = np.random.default_rng(20260301)
    rows = invented_orientation(rng)
    times = epochs(rng)
    sources = np.stack([rng.uniform(0, 2 * np.pi, len(times)),
                        np.arcsin(rng.uniform(-1, 1, len(times)))], axis=1)
    commands = setup(rows, sources)
    commands += ['evaluate %d %d %s' % (j, i, t.text())
                 for i, t in enumerate(times) for j in range(len(STATIONS))]
    commands += ['orient ' + t.text() for t in times]
    fields, *answers = library(commands)
    n = len(times) * len(STATIONS)
    orientation = ref.Orientation(FIRST_MJD, rows)
    got = np.array([[ref.L(v) for v in a] for a in answers[n:]])
    want = np.array([orientation.at(t) for t in times])
    # 1 s of UT1 turns the equator by 465 m, 1 rad of a pole moves it by 6.38e6 m
    metres = np.array([6.38e6, 6.38e6, 465.0, 6.38e6, 6.38e6])
    check('Earth orientation', (got - want) * metres / ref.C, LIMIT_S / 50)
    rows = [dict(zip(fields, answer)) for answer in answers[:n]]
    compare_stations(times, sources, orientation, rows)
    compare_baselines(times, sources, orientation, rows)


if __name__ == '__main__':
    main()
