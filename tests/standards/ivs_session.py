# SPDX-License-Identifier: GPL-3.0-or-later
"""Sessions of the IVS: their tables (tests/data/ivs), jobs made from them, delays of the library.

Source of the data: International VLBI Service for Geodesy and Astrometry; Nothnagel et al. 2017,
J. Geodesy 91, 711. With thanks to all who observe, correlate and publish for the IVS.
"""
import os
import subprocess

import numpy as np
from scipy.interpolate import CubicSpline

PROGRAM = os.path.join(os.environ['WF_BUILD'], 'tests', 'standards', 'session_values')
SCRATCH = os.environ['WF_SCRATCH']
os.makedirs(SCRATCH, exist_ok=True)
DATA = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', 'data', 'ivs')
TAI_MINUS_UTC = {'14MAY06XA': 35, '18MAR02XU': 37}  # IERS Bulletin C 45, 52
MOUNTS = {'ALTAZ': 'altaz', 'XYEAST': 'xy_east'}
WAVES = ['M2', 'S2', 'N2', 'K2', 'K1', 'O1', 'P1', 'Q1', 'Mf', 'Mm', 'Ssa']


class Table(list):
    """Rows as dictionaries of texts."""

    def __init__(self, *path):
        lines = [line.rstrip('\n').split('\t') for line in open(os.path.join(DATA, *path))
                 if not line.startswith('#')]
        super().__init__(dict(zip(lines[0], row)) for row in lines[1:])

    def column(self, name, kind=float):
        return np.array([np.nan if row[name] == '-' else kind(row[name]) for row in self])


class Session:
    def __init__(self, name):
        self.name = name
        self.tables = {}
        self.stations = [row['station'] for row in self.table('stations')]
        self.sources = [row['source'] for row in self.table('sources')]
        self.scans = self.table('scans')
        observations = self.table('observations')
        integer = {name: observations.column(name, int) for name in ('scan', 'i', 'j', 'use')}
        self.scan, self.i, self.j = integer['scan'], integer['i'], integer['j']
        self.used = integer['use'] == 1
        self.observed_ps = observations.column('observed_ps') - observations.column('iono_ps')
        self.sigma_ps = np.hypot(observations.column('sigma_ps'),
                                 observations.column('iono_sigma_ps'))
        self.theory_ps = observations.column('theory_ps')

    def table(self, name):
        if name not in self.tables:
            self.tables[name] = Table(self.name, name + '.tsv')
        return self.tables[name]

    def seconds(self):
        """Of each scan since 0h UTC of the first one's day."""
        stamps = np.array([row['utc'] for row in self.scans], dtype='datetime64[ms]')
        return (stamps - stamps[0].astype('datetime64[D]')).astype(float) / 1e3

    def weather(self, column):
        """[scan][station], nan where nothing was logged."""
        out = np.full((len(self.scans), len(self.stations)), np.nan)
        rows = self.table('station_scans')
        out[rows.column('scan', int), rows.column('station', int)] = rows.column(column)
        return out

    # --- Earth orientation: rows of (MJD, x mas, y mas, UT1-UTC s, dX mas, dY mas)

    def series_of_the_session(self):
        rows = self.table('eop_apriori')
        ut1 = TAI_MINUS_UTC[self.name] - rows.column('tai_minus_ut1_s')
        zero = np.zeros(len(rows))
        return np.stack([rows.column('mjd'), rows.column('x_mas'), rows.column('y_mas'), ut1, zero,
                         zero], axis=1)

    def series_of_the_iers(self):
        rows = self.table('eop_finals2000a')
        return np.stack([rows.column('mjd'), 1e3 * rows.column('x_as'), 1e3 * rows.column('y_as'),
                         rows.column('ut1_utc_s'), rows.column('dx_mas'), rows.column('dy_mas')],
                        axis=1)


def splined(series, step_days, late_s=0.0):
    """A cubic spline through the raw daily values, here sampled so densely that any other
    interpolation between the samples agrees with it; `late_s` after the time that asks for it."""
    mjd = np.arange(series[3, 0], series[-4, 0] + step_days / 2, step_days)
    spline = CubicSpline(series[:, 0], series[:, 1:])
    return np.column_stack([mjd, spline(mjd + late_s / 86400)])


def run(job_path, lines):
    done = subprocess.run([PROGRAM, job_path], input=''.join(lines), text=True,
                          capture_output=True)
    assert done.returncode == 0, done.stderr
    names, *rows = done.stdout.splitlines()
    values = np.array([row.split() for row in rows], dtype=np.longdouble)
    return dict(zip(names.split(), values.T))


def time_text(mjd):
    second = round((mjd - int(mjd)) * 86400)
    return '%sT%02d:%02d:%02d' % (np.datetime64('1858-11-17') + np.timedelta64(int(mjd), 'D'),
                                  second // 3600, second // 60 % 60, second % 60)


def write_blq(session):
    """The ocean loading table in the format of its provider."""
    path = os.path.join(SCRATCH, session.name + '.blq')
    rows = session.table('ocean_loading')
    with open(path, 'w') as file:
        for name in session.stations:
            file.write('  %s\n' % name)
            for quantity in ('amp', 'phase'):
                for component in ('up', 'west', 'south'):
                    row, = [r for r in rows if (r['station'], r['component'], r['quantity'])
                            == (name, component, quantity)]
                    file.write('  ' + ' '.join(row[wave] for wave in WAVES) + '\n')
    return path


def ocean_pole_tide(session, name):
    row, = [r for r in session.table('ocean_pole_tide') if r['station'] == name]
    return 'ocean_pole_tide: {u_real: [%s], u_imaginary: [%s]}' % (
        ', '.join(row['c%d' % k] for k in (1, 3, 5)), ', '.join(row['c%d' % k] for k in (2, 4, 6)))


def job_text(session, stations, sources, series, terms, more=(), more_orientation=()):
    """A job over the whole session; `stations` are lists of YAML lines, the first the name."""
    first = session.scans[0]['utc']
    seconds = session.seconds()
    lines = ['campaign: %s' % session.name, 'stations:']
    for station in stations:
        lines += ['  - ' + station[0]] + ['    ' + line for line in station[1:]]
    lines += ['sources:']
    lines += ['  - {name: "%s", right_ascension_deg: %.16g, declination_deg: %.16g}'
              % (row['source'], np.degrees(float(row['ra_rad'])), np.degrees(float(row['dec_rad'])))
              for row in sources]
    lines += ['scans:', '  - {name: all, source: "%s", start: %s, duration_s: %.3f}'
              % (sources[0]['source'], first, seconds[-1] - seconds[0] + 1),
              'bands:', '  - {name: x, edge_hz: 8.4e9, bandwidth_hz: 16.0e6, sideband: upper}',
              'recordings:']
    lines += ['  - {station: "%s", files: [none.vdif], sample_rate_hz: 32000000, '
              'streams: [{band: x, polarization: R}]}' % name for name in session.stations]
    lines += ['correlation: {channels: 64, integration_s: 1.0}', 'delay_terms:']
    lines += ['  %s: %s' % (name, 'true' if on else 'false') for name, on in terms.items()]
    lines += ['  clock: true', *more, 'earth_orientation:']
    lines += ['  ' + line for line in more_orientation] + ['  days:']
    lines += ['    - {date: %s, pole_x_arcsec: %.9f, pole_y_arcsec: %.9f, ut1_minus_utc_s: %.10f, '
              'celestial_dx_mas: %.6f, celestial_dy_mas: %.6f}'
              % (time_text(row[0]), row[1] / 1e3, row[2] / 1e3, row[3], row[4], row[5])
              for row in series]
    return '\n'.join(lines) + '\n'


def delays(session, job):
    """Of every observation, s, by name of the term."""
    path = os.path.join(SCRATCH, session.name + '.yaml')
    with open(path, 'w') as file:
        file.write(job)
    number = {name: i for i, name in enumerate(session.sources)}
    lines = ['%d %d %d %s\n' % (i, j, number[session.scans[scan]['source']],
                                session.scans[scan]['utc'])
             for scan, i, j in zip(session.scan, session.i, session.j)]
    return run(path, lines)
