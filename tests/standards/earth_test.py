# SPDX-License-Identifier: GPL-3.0-or-later
"""Earth orientation from a file, rotation and horizon against astropy (5.2, on its own route)."""
import os
import subprocess
import sys

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_sun
from astropy.time import Time
from astropy.utils import iers

PROGRAM = os.path.join(os.environ['WF_BUILD'], 'tests', 'standards', 'delay_values')
HERE = os.path.dirname(os.path.abspath(__file__))
FINALS = os.path.join(HERE, '..', 'data', 'earth_orientation', 'finals2000A_march_2018.data')
C = 299792458.0
AS2R = np.pi / 648000
STATIONS = [(4254490.25, -2596951.5, 3966574.75), (-3129916.125, -5229709.5, -1874017.25),
            (141718.5, 4774987.25, -4212909.125)]
SOURCES = [(0.0, 0.0), (2.1, 0.6), (3.4, -0.5), (4.4, 1.3), (1.2, -1.1)]
NO_TERMS = ['switch all 0', 'switch celestial_pole_offsets 1']
DAYS = list(range(58171, 58180))  # those that four points surround


def library(commands):
    done = subprocess.run([PROGRAM], input='\n'.join(commands) + '\n', text=True,
                          capture_output=True)
    assert done.returncode == 0, done.stderr
    return np.array([[float(v) for v in line.split()] for line in done.stdout.splitlines()])


def check(name, difference, limit, unit):
    worst = np.max(np.abs(difference))
    print('%-32s worst %.2e %s, limit %.1e' % (name, worst, unit, limit))
    assert worst <= limit, name


def by_columns(path):
    """Bulletin B or else A of each line: MJD -> x, y (arcsec), UT1-UTC (s), dX, dY (mas)."""
    table = {}
    for line in open(path):
        def field(*columns):
            texts = [line[first - 1:last].strip() for first, last in columns]
            return next((float(t) for t in texts if t), np.nan)
        table[int(float(line[7:15]))] = np.array([
            field((135, 144), (19, 27)), field((145, 154), (38, 46)),
            field((155, 165), (59, 68)), field((166, 175), (98, 106)),
            field((176, 185), (117, 125))])
    return table


def date(mjd):
    return Time(mjd, format='mjd', scale='utc').isot


def file_is_read(table):
    got = library(NO_TERMS + ['finals ' + FINALS] + ['orient ' + date(d) for d in DAYS[:-1]])
    want = np.array([table[d] for d in DAYS[:-1]])
    got[:, :2] /= AS2R
    got[:, 2] += 37  # TAI - UTC since 2017 (IERS Bulletin C 52)
    got[:, 3:] /= AS2R * 1e-3
    check('finals2000A by columns', got - want, 1e-13, 'as, s, mas')  # rounding of UT1-TAI


def file_is_read_as_astropy_does(table):
    """astropy reads the same file; its columns hold Bulletin B where there is one."""
    theirs = iers.IERS_A.open(FINALS)
    rows = [list(theirs['MJD'].value).index(d) for d in DAYS]
    columns = [('PM_x', u.arcsec), ('PM_y', u.arcsec), ('UT1_UTC', u.s), ('dX_2000A', u.mas),
               ('dY_2000A', u.mas)]
    for i, (name, unit) in enumerate(columns):
        want = u.Quantity(theirs[name][rows]).to_value(unit)
        ours = np.array([table[d][i] for d in DAYS])
        check('astropy ' + name, ours - want, 1e-12, str(unit))
    return theirs


def setup(table):
    """astropy leaves dX, dY out: so does this comparison."""
    commands = NO_TERMS + ['station %.17g %.17g %.17g 0 0 0 2015' % s for s in STATIONS]
    commands += ['source %.17g %.17g' % s for s in SOURCES]
    commands += ['day %d %.17g %.17g %.17g 0 0' % (d, v[0] * AS2R, v[1] * AS2R, v[2])
                 for d, v in sorted(table.items()) if np.isfinite(v[0])]
    return commands


def compare_positions(table):
    """u, v, w towards (0, 0) are the GCRS axes y, z, x. At 0h UTC astropy's linear interpolation
    of the table and ours agree."""
    got = library(setup(table) + ['evaluate %d 0 %s' % (i, date(d)) for d in DAYS
                                  for i in range(len(STATIONS))])[:, -5:-2]
    want = []
    for d in DAYS:
        for s in STATIONS:
            place = EarthLocation.from_geocentric(*s, unit=u.m)
            p = place.get_gcrs_posvel(Time(d, format='mjd', scale='utc'))[0].xyz.to_value(u.m)
            want.append([p[1], p[2], p[0]])
    check('GCRS positions', (got - np.array(want)) / C * 1e12, 0.01, 'ps')


def compare_horizon(table):
    """The Sun bends the light of sources 30 degrees away by 15 mas, which is not in our angles;
    aberration of second order 1 mas."""
    worst = []
    for d in DAYS:
        t = Time(d, format='mjd', scale='utc')
        for i, s in enumerate(STATIONS):
            place = EarthLocation.from_geocentric(*s, unit=u.m)
            rows = library(setup(table) + ['evaluate %d %d %s' % (i, n, date(d))
                                           for n in range(len(SOURCES))])
            for n, source in enumerate(SOURCES):
                icrs = SkyCoord(*source, unit='rad')
                if get_sun(t).separation(icrs) < 30 * u.deg:
                    continue
                seen = icrs.transform_to(AltAz(obstime=t, location=place, pressure=0 * u.hPa))
                az, el = rows[n][-2:]
                assert 0 <= az < 2 * np.pi
                turn = (az - seen.az.rad + np.pi) % (2 * np.pi) - np.pi
                worst += [turn * np.cos(el) / AS2R, (el - seen.alt.rad) / AS2R]
    check('azimuth and elevation', np.array(worst), 0.02, 'arcsec')


def main():
    iers.conf.auto_download = False
    iers.conf.auto_max_age = None
    table = by_columns(FINALS)
    file_is_read(table)
    theirs = file_is_read_as_astropy_does(table)
    with iers.earth_orientation_table.set(theirs):
        compare_positions(table)
        compare_horizon(table)


if __name__ == '__main__':
    sys.exit(main())
