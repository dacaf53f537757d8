# SPDX-License-Identifier: GPL-3.0-or-later
"""The FITS-IDI files against the tables of the convention, and their values against ERFA.

Source: The FITS Interferometry Data Interchange Convention, AIPS Memo 114 (revised), in the FITS
registry of conventions: tables, keywords, columns, forms and units below are its. Signs: section 2
there for u, v, w (r_i - r_j) and for the phase of a source (-2 pi (ul + vm)).
"""
import os
import subprocess
import unittest

import erfa
import numpy as np
from astropy.io import fits
from program import scratch

PROGRAM = os.path.join(os.environ['WF_BUILD'], 'tests', 'standards', 'fits_idi_values')
LIGHT_M_PER_S = 299792458.0
MJD = 61100  # 2026-03-01, the day of the first scan
DAY_S = 86400.0
AS2R = np.pi / 648000

# what the program wrote
POSITION_M = np.array([[4254490.25, -2596951.5, 3966574.75],
                       [-3129916.125, -5229709.5, -1874017.25],
                       [141718.5, 4774987.25, -4212909.125]])
VELOCITY_M_PER_YEAR = np.array([[0.0123, -0.0184, 0.0092], [0, 0, 0], [0, 0, 0]])
SOURCES_RAD = [(3.3, 0.4), (0.9, -0.7)]
POLE_RAD = (5e-7 + 4 * 1e-9, 1.6e-6 - 4 * 2e-9)
UT1_MINUS_UTC_S = 0.0625 - 4 * 3e-4
TAI_MINUS_UTC_S = 37.0
FIRST_SCAN_S, SECOND_SCAN_S = 86390.0, 87000.0  # since 0h of MJD

ORDER = ['ARRAY_GEOMETRY', 'SOURCE', 'ANTENNA', 'FREQUENCY', 'INTERFEROMETER_MODEL',
         'MODEL_COMPS', 'UV_DATA']
REVISION = {'ARRAY_GEOMETRY': 1, 'SOURCE': 1, 'ANTENNA': 1, 'FREQUENCY': 2,
            'INTERFEROMETER_MODEL': 2, 'MODEL_COMPS': 1, 'UV_DATA': 2}
# {b}: bands, {w}: bands x products, {f}: elements of FLUX, {p}: polynomial terms, {q}: p x bands
COLUMNS = {
    'ARRAY_GEOMETRY': [
        ('ANNAME', '8A', ''), ('STABXYZ', '3D', 'METERS'), ('DERXYZ', '3E', 'METERS/SEC'),
        ('ORBPARM', '0D', ''), ('NOSTA', '1J', ''), ('MNTSTA', '1J', ''),
        ('STAXOF', '3E', 'METERS'), ('DIAMETER', '1E', 'METERS')],
    'SOURCE': [
        ('SOURCE_ID', '1J', ''), ('SOURCE', '16A', ''), ('QUAL', '1J', ''), ('CALCODE', '4A', ''),
        ('FREQID', '1J', ''), ('IFLUX', '{b}E', 'JY'), ('QFLUX', '{b}E', 'JY'),
        ('UFLUX', '{b}E', 'JY'), ('VFLUX', '{b}E', 'JY'), ('ALPHA', '{b}E', ''),
        ('FREQOFF', '{b}E', 'HZ'), ('RAEPO', '1D', 'DEGREES'), ('DECEPO', '1D', 'DEGREES'),
        ('EQUINOX', '8A', ''), ('RAAPP', '1D', 'DEGREES'), ('DECAPP', '1D', 'DEGREES'),
        ('SYSVEL', '{b}D', 'METERS/SEC'), ('VELTYP', '8A', ''), ('VELDEF', '8A', ''),
        ('RESTFREQ', '{b}D', 'HZ'), ('PMRA', '1D', 'DEGREES/DAY'), ('PMDEC', '1D', 'DEGREES/DAY'),
        ('PARALLAX', '1E', 'ARCSEC')],
    'ANTENNA': [
        ('TIME', '1D', 'DAYS'), ('TIME_INTERVAL', '1E', 'DAYS'), ('ANNAME', '8A', ''),
        ('ANTENNA_NO', '1J', ''), ('ARRAY', '1J', ''), ('FREQID', '1J', ''),
        ('NO_LEVELS', '1J', ''), ('POLTYA', '1A', ''), ('POLAA', '{b}E', 'DEGREES'),
        ('POLTYB', '1A', ''), ('POLAB', '{b}E', 'DEGREES')],
    'FREQUENCY': [
        ('FREQID', '1J', ''), ('BANDFREQ', '{b}D', 'HZ'), ('CH_WIDTH', '{b}E', 'HZ'),
        ('TOTAL_BANDWIDTH', '{b}E', 'HZ'), ('SIDEBAND', '{b}J', ''), ('BB_CHAN', '{b}J', '')],
    'INTERFEROMETER_MODEL': [
        ('TIME', '1D', 'DAYS'), ('TIME_INTERVAL', '1E', 'DAYS'), ('SOURCE_ID', '1J', ''),
        ('ANTENNA_NO', '1J', ''), ('ARRAY', '1J', ''), ('FREQID', '1J', ''),
        ('I.FAR.ROT', '1E', 'RAD/METER**2'), ('FREQ.VAR', '{b}E', 'HZ')],
    'MODEL_COMPS': [
        ('TIME', '1D', 'DAYS'), ('SOURCE_ID', '1J', ''), ('ANTENNA_NO', '1J', ''),
        ('ARRAY', '1J', ''), ('FREQID', '1J', ''), ('ATMOS', '1D', 'SECONDS'),
        ('DATMOS', '1D', 'SEC/SEC'), ('GDELAY', '1D', 'SECONDS'), ('GRATE', '1D', 'SEC/SEC')],
    'UV_DATA': [
        ('UU---SIN', '1D', 'SECONDS'), ('VV---SIN', '1D', 'SECONDS'),
        ('WW---SIN', '1D', 'SECONDS'), ('DATE', '1D', 'DAYS'), ('TIME', '1D', 'DAYS'),
        ('BASELINE', '1J', ''), ('ARRAY', '1J', ''), ('SOURCE_ID', '1J', ''),
        ('FREQID', '1J', ''), ('INTTIM', '1E', 'SECONDS'), ('WEIGHT', '{w}E', ''),
        ('FLUX', '{f}E', 'UNCALIB')],
}
OF_EACH_POLARIZATION = [
    ('PDELAY', '{q}D', 'TURNS'), ('GDELAY', '{p}D', 'SECONDS'), ('PRATE', '{q}D', 'HZ'),
    ('GRATE', '{p}D', 'SEC/SEC'), ('DISP', '1E', 'SECONDS'), ('DDISP', '1E', 'SEC/SEC')]
COMPONENTS_OF_EACH_POLARIZATION = [
    ('CLOCK', '1D', 'SECONDS'), ('DCLOCK', '1D', 'SEC/SEC'), ('LO_OFFSET', '{b}E', 'HZ'),
    ('DLO_OFFSET', '{b}E', 'HZ/SEC'), ('DISP', '1E', 'SECONDS'), ('DDISP', '1E', 'SEC/SEC')]


def columns_of(name, n_bands, n_products, n_channels, n_terms, n_polarizations):
    columns = list(COLUMNS[name])
    of_each = {'INTERFEROMETER_MODEL': OF_EACH_POLARIZATION,
               'MODEL_COMPS': COMPONENTS_OF_EACH_POLARIZATION}.get(name, [])
    for k in range(n_polarizations):
        columns += [('%s_%d' % (c, k + 1), form, unit) for c, form, unit in of_each]
    sizes = {'b': n_bands, 'w': n_bands * n_products, 'f': 2 * n_bands * n_products * n_channels,
             'p': n_terms, 'q': n_terms * n_bands}
    return [(c, form.format(**sizes), unit) for c, form, unit in columns]


def primary_cards(path):
    """Cards of the primary header as they stand: astropy has its own mind of GROUPS = T."""
    cards = []
    with open(path, 'rb') as file:
        while not cards or cards[-1] != 'END':
            cards.append(file.read(80).decode('ascii').rstrip())
    return cards


def one_complement_sum(data):
    total = int(np.frombuffer(data, '>u4').sum(dtype=np.uint64))
    while total >> 32:
        total = (total & 0xffffffff) + (total >> 32)
    return total


def terrestrial_time(seconds):
    return 2400000.5 + MJD, (seconds + TAI_MINUS_UTC_S + 32.184) / DAY_S


class Structure(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = scratch()
        done = subprocess.run([PROGRAM, str(folder)], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        cls.delays = [[float(v) for v in line.split()] for line in done.stdout.splitlines()]
        cls.paths = {name: str(folder / (name + '.fits')) for name in ('circular', 'linear')}
        cls.files = {name: fits.open(path, memmap=False) for name, path in cls.paths.items()}
        cls.shapes = {'circular': (2, 4, 4, 8, 2), 'linear': (1, 1, 4, 8, 1)}

    @classmethod
    def tearDownClass(cls):
        for file in cls.files.values():
            file.close()

    def table(self, table, name='circular'):
        return self.files[name][table]

    def test_primary_header_marks_fits_idi(self):
        for path in self.paths.values():
            cards = primary_cards(path)
            fixed = [c.split('/')[0].rstrip() for c in cards[:4]]
            self.assertEqual([c.replace(' ', '') for c in fixed],
                             ['SIMPLE=T', 'BITPIX=8', 'NAXIS=0', 'EXTEND=T'])
            words = {c[:8].rstrip(): c[10:].split('/')[0].strip() for c in cards if c[8:9] == '='}
            for key, want in [('GROUPS', 'T'), ('GCOUNT', '0'), ('PCOUNT', '0'),
                              ('OBJECT', "'BINARYTB'"), ('CORRELAT', "'WHITEFRINGE'"),
                              ('OBSERVER', "'Forest-7'"), ('DATE-OBS', "'2026-03-01'")]:
                self.assertEqual(words[key], want, key)
            self.assertIn('TELESCOP', words)
            self.assertIn('ORIGIN', words)
            self.assertNotIn('DATE', words)  # nor any other trace of when it was written

    def test_history_says_what_was_written(self):
        text = {name: ' '.join(c[8:].strip() for c in primary_cards(path)
                               if c.startswith('HISTORY')) for name, path in self.paths.items()}
        for words in ['phase -2 pi nu (u l + v m)', 'conj(<x_i conj(x_j)>)',
                      "offset of the station's clock is included", 'to quantisation is corrected',
                      'A line that an outsider gave, long enough to need a second card since it '
                      'has more than seventy-two characters. two lines']:
            self.assertIn(words, text['circular'])
        self.assertIn('to quantisation is not corrected', text['linear'])
        self.assertIn('Delay term left out by the job: plate motion', text['linear'])
        self.assertNotIn('left out', text['circular'])
        self.assertIn('Earth orientation: 9 rows that the job states', text['circular'])
        for words in ['Desai and Sibois (2016)', 'from the secular pole of 2018']:
            self.assertIn(words, text['circular'])
            self.assertNotIn(words, text['linear'])
        for words in ['IERS Conventions (2010), 71 lines', 'from the mean pole of the IERS',
                      'Ocean loading: the file forest.blq.']:
            self.assertIn(words, text['linear'])
            self.assertNotIn(words, text['circular'])

    def test_tables_stand_in_order(self):
        for name, file in self.files.items():
            self.assertEqual([hdu.name for hdu in file[1:]], ORDER, name)

    def test_columns_are_those_of_the_convention(self):
        for name, file in self.files.items():
            for hdu in file[1:]:
                got = [(hdu.header['TTYPE%d' % i], hdu.header['TFORM%d' % i],
                        hdu.header.get('TUNIT%d' % i, ''))
                       for i in range(1, hdu.header['TFIELDS'] + 1)]
                self.assertEqual(got, columns_of(hdu.name, *self.shapes[name]), hdu.name)

    def test_every_table_has_the_common_keywords(self):
        first_code = {'circular': -1, 'linear': -6}
        for name, file in self.files.items():
            n_bands, n_products, n_channels = self.shapes[name][:3]
            for hdu in file[1:]:
                want = {'EXTVER': 1, 'TABREV': REVISION[hdu.name], 'OBSCODE': 'Forest-7',
                        'NO_STKD': n_products, 'STK_1': first_code[name], 'NO_BAND': n_bands,
                        'NO_CHAN': n_channels, 'REF_FREQ': 8400e6, 'CHAN_BW': 4e6,
                        'REF_PIXL': 1.0, 'RDATE': '2026-03-01'}
                for key, value in want.items():
                    self.assertEqual(hdu.header[key], value, '%s %s' % (hdu.name, key))
                    self.assertIs(type(hdu.header[key]), type(value), '%s %s' % (hdu.name, key))
                    self.assertEqual(list(hdu.header).count(key), 1)

    def test_axes_of_flux(self):
        for name, file in self.files.items():
            head = file['UV_DATA'].header
            n_bands, n_products, n_channels = self.shapes[name][:3]
            axes = [('COMPLEX', 2, 1.0, 1.0, 1.0),
                    ('STOKES', n_products, -1.0, 1.0, -1.0 if name == 'circular' else -6.0),
                    ('FREQ', n_channels, 4e6, 1.0, 8400e6), ('BAND', n_bands, 1.0, 1.0, 1.0),
                    ('RA', 1, 0.0, 1.0, 0.0), ('DEC', 1, 0.0, 1.0, 0.0)]
            for m, axis in enumerate(axes, 1):
                got = tuple(head['%s%d' % (k, m)]
                            for k in ('CTYPE', 'MAXIS', 'CDELT', 'CRPIX', 'CRVAL'))
                self.assertEqual(got, axis)
            # readers go by the order in which the cards stand
            keys = [k for k in head if k.startswith('MAXIS')]
            self.assertEqual(keys, ['MAXIS'] + ['MAXIS%d' % m for m in range(1, 7)])
            flux = 1 + [c.name for c in file['UV_DATA'].columns].index('FLUX')
            self.assertIs(head['TMATX%d' % flux], True)
            self.assertEqual([k for k in head if k.startswith('TMATX')], ['TMATX%d' % flux])
            want = {'NMATRIX': 1, 'MAXIS': 6, 'DATE-OBS': '2026-03-01', 'EQUINOX': 'J2000',
                    'WEIGHTYP': 'NORMAL', 'SORT': 'T*', 'VIS_SCAL': 1.0, 'OBSERVER': 'Forest-7'}
            for key, value in want.items():
                self.assertEqual(head[key], value)

    def test_checksums_hold(self):
        for path in self.paths.values():
            with fits.open(path) as file:
                size = os.path.getsize(path)
                self.assertEqual(size % 2880, 0)
                starts = [hdu.fileinfo()['hdrLoc'] for hdu in file] + [size]
                for i, hdu in enumerate(file[:-1]):
                    with open(path, 'rb') as raw:
                        raw.seek(starts[i])
                        data = raw.read(starts[i + 1] - starts[i])
                    self.assertIn(b'CHECKSUM=', data, hdu.name)
                    self.assertEqual(one_complement_sum(data), 0xffffffff, hdu.name)

    def test_stations(self):
        head, rows = self.table('ARRAY_GEOMETRY').header, self.table('ARRAY_GEOMETRY').data
        want = {'ARRNAM': 'VLBI', 'FRAME': 'GEOCENTRIC', 'ARRAYX': 0.0, 'ARRAYY': 0.0,
                'ARRAYZ': 0.0, 'NUMORB': 0, 'FREQ': 8400e6, 'TIMSYS': 'UTC', 'TIMESYS': 'UTC',
                'DEGPDY': 360.9856449733, 'IATUTC': TAI_MINUS_UTC_S}
        for key, value in want.items():
            self.assertEqual(head[key], value, key)
        self.assertAlmostEqual(head['UT1UTC'], UT1_MINUS_UTC_S, delta=1e-12)
        self.assertAlmostEqual(head['POLARX'] * AS2R, POLE_RAD[0], delta=1e-18)
        self.assertAlmostEqual(head['POLARY'] * AS2R, POLE_RAD[1], delta=1e-18)
        # the IAU 1994 theory is within 0.1 arcsec of that of 2006 in these years
        gst = np.degrees(erfa.gst94(2400000.5 + MJD, UT1_MINUS_UTC_S / DAY_S))
        self.assertAlmostEqual(head['GSTIA0'], gst, delta=3e-5)
        self.assertEqual([n.strip() for n in rows['ANNAME']], ['Alder', 'Birch', 'Cedar'])
        self.assertEqual(list(rows['NOSTA']), [1, 2, 3])
        self.assertEqual(list(rows['MNTSTA']), [0, 1, 3])  # alt-az, equatorial, X-Y
        self.assertEqual(rows['STAXOF'].tolist(), [[0, 0, 0], [2.5, 0, 0], [0, 0, 0]])
        self.assertEqual(list(rows['DIAMETER']), [12.0, 25.0, 0.0])
        # 2015.0 is MJD 57023; years of 365.25 days
        years = (MJD - 57023 + FIRST_SCAN_S / DAY_S) / 365.25
        np.testing.assert_allclose(rows['STABXYZ'], POSITION_M + years * VELOCITY_M_PER_YEAR,
                                   rtol=0, atol=1e-8)
        np.testing.assert_allclose(rows['DERXYZ'], VELOCITY_M_PER_YEAR / (365.25 * DAY_S),
                                   rtol=1e-7)
        rows = self.table('ARRAY_GEOMETRY', 'linear').data  # without plate motion
        np.testing.assert_array_equal(rows['STABXYZ'], POSITION_M)
        np.testing.assert_array_equal(rows['DERXYZ'], 0)

    def test_feeds(self):
        rows = self.table('ANTENNA').data
        head = self.table('ANTENNA').header
        self.assertEqual((head['NOPCAL'], head['POLTYPE']), (0, 'APPROX'))
        self.assertEqual(list(rows['ANTENNA_NO']), [1, 2, 3])
        self.assertEqual([n.strip() for n in rows['ANNAME']], ['Alder', 'Birch', 'Cedar'])
        self.assertEqual(list(rows['NO_LEVELS']), [4, 2, 256])
        self.assertEqual(set(rows['POLTYA']) | set(rows['POLTYB']), {'R', 'L'})
        # the rows are valid for all of the observation
        low, high = rows['TIME'] - rows['TIME_INTERVAL'] / 2, rows['TIME'] + rows['TIME_INTERVAL'] / 2
        np.testing.assert_allclose(low * DAY_S, FIRST_SCAN_S, atol=0.01)
        np.testing.assert_allclose(high * DAY_S, SECOND_SCAN_S + 4, atol=0.01)
        rows = self.table('ANTENNA', 'linear').data
        self.assertEqual([rows['POLTYA'][0], rows['POLTYB'][0]], ['X', 'Y'])
        self.assertEqual([rows['POLAA'][0], rows['POLAB'][0]], [0.0, 90.0])
        self.assertEqual(self.table('ANTENNA', 'linear').header['POLTYPE'], 'X-Y LIN')

    def test_frequencies_ascend_and_name_the_middle_of_channels(self):
        row, head = self.table('FREQUENCY').data[0], self.table('FREQUENCY').header
        channel = np.arange(1, 5)
        sky = (head['REF_FREQ'] + row['BANDFREQ'][:, None]
               + (channel - head['REF_PIXL']) * row['CH_WIDTH'][:, None])
        # upper: from the edge, 8400 MHz, up; lower: from the edge, 8450 MHz, down
        np.testing.assert_array_equal(sky, [[8400e6, 8404e6, 8408e6, 8412e6],
                                            [8438e6, 8442e6, 8446e6, 8450e6]])
        self.assertEqual(list(row['SIDEBAND']), [1, 1])
        self.assertEqual(list(row['TOTAL_BANDWIDTH']), [16e6, 16e6])
        self.assertEqual(row['FREQID'], 1)

    def test_sources(self):
        rows = self.table('SOURCE').data
        self.assertEqual([n.strip() for n in rows['SOURCE']], ['Ousel', 'Willowbrook'])
        self.assertEqual(list(rows['SOURCE_ID']), [1, 2])
        self.assertEqual(set(rows['EQUINOX']), {'J2000'})
        self.assertEqual(list(rows['PMRA']) + list(rows['PMDEC']), [0.0] * 4)
        tt = terrestrial_time(FIRST_SCAN_S)
        speed = erfa.epv00(*tt)[1]['v'] * (erfa.DAU / DAY_S / LIGHT_M_PER_S)
        for row, (ra, dec) in zip(rows, SOURCES_RAD):
            np.testing.assert_allclose([row['RAEPO'], row['DECEPO']], np.degrees([ra, dec]),
                                       rtol=1e-15)
            # aberration, then precession and nutation; the Sun bends light by 0.01 arcsec at most
            seen = erfa.ab(erfa.s2c(ra, dec), speed, 1.0, np.sqrt(1 - speed @ speed))
            app_ra, app_dec = erfa.c2s(erfa.pnm06a(*tt) @ seen)
            np.testing.assert_allclose([row['RAAPP'], row['DECAPP']],
                                       np.degrees([erfa.anp(app_ra), app_dec]), atol=3e-6)

    def test_visibilities_are_conjugate_and_in_place(self):
        rows = self.table('UV_DATA').data
        self.assertEqual(len(rows), 4 * 6)
        baselines = [256 * i + j for i in (1, 2, 3) for j in range(i, 4)]
        for n in range(4):
            block = rows[6 * n:6 * n + 6]
            self.assertEqual(list(block['BASELINE']), baselines)
            number = np.arange(6 * 32, dtype=float).reshape(6, 2, 4, 4) + 1000 * (n % 2)
            want = np.stack([number, number + 0.5], axis=-1)  # conj of n - i (n + 1/2)
            for b in (0, 3, 5):  # autocorrelations of parallel hands are real
                want[b, :, :, :2, 1] = 0
            np.testing.assert_array_equal(block['FLUX'].reshape(want.shape), want)
            np.testing.assert_array_equal(block['WEIGHT'], np.arange(1, 49).reshape(6, 8) / 128)
            self.assertEqual(set(block['SOURCE_ID']), {[2, 1][n // 2]})
            self.assertEqual(set(block['INTTIM']), {2.0})
            self.assertEqual(set(block['FREQID']) | set(block['ARRAY']), {1})

    def test_times_are_the_middle_of_integrations(self):
        rows = self.table('UV_DATA').data[::6]
        np.testing.assert_array_equal(rows['DATE'], 2400000.5 + MJD + np.array([0, 0, 1, 1]))
        middle = np.array([86391.0, 86393.0, 601.0, 603.0])
        np.testing.assert_allclose(rows['TIME'] * DAY_S, middle, rtol=0, atol=2e-11)

    def test_uvw_is_first_minus_second_station(self):
        rows = self.table('UV_DATA').data
        head = self.table('ARRAY_GEOMETRY').header
        position_m = self.table('ARRAY_GEOMETRY').data['STABXYZ']
        for row in rows:
            since = (row['DATE'] - 2400000.5 - MJD + row['TIME']) * DAY_S
            # UT1-UTC and the pole move by 3e-4 s and 4e-4 arcsec a day: 1.4 m at most
            matrix = erfa.c2t06a(*terrestrial_time(since), 2400000.5 + MJD,
                                 (since + head['UT1UTC']) / DAY_S, head['POLARX'] * AS2R,
                                 head['POLARY'] * AS2R)
            i, j = row['BASELINE'] // 256 - 1, row['BASELINE'] % 256 - 1
            x, y, z = matrix.T @ (position_m[i] - position_m[j]) / LIGHT_M_PER_S
            ra, dec = SOURCES_RAD[row['SOURCE_ID'] - 1]
            u = -x * np.sin(ra) + y * np.cos(ra)
            v = (-x * np.cos(ra) - y * np.sin(ra)) * np.sin(dec) + z * np.cos(dec)
            w = (x * np.cos(ra) + y * np.sin(ra)) * np.cos(dec) + z * np.sin(dec)
            got = [row['UU---SIN'], row['VV---SIN'], row['WW---SIN']]
            np.testing.assert_allclose(got, [u, v, w], rtol=0, atol=1.5 / LIGHT_M_PER_S)

    def model_row(self, antenna, source, since):
        rows = self.table('INTERFEROMETER_MODEL').data
        start = rows['TIME'] * DAY_S
        found = rows[(rows['ANTENNA_NO'] == antenna) & (rows['SOURCE_ID'] == source)
                     & (start <= since) & (since <= start + rows['TIME_INTERVAL'] * DAY_S)]
        self.assertGreaterEqual(len(found), 1, 'no model for antenna %d at %g s' % (antenna, since))
        return found[0]

    def test_model_is_the_delay_that_was_taken_out(self):
        n_checked = 0
        for scan, station, since, tau_s, _, _ in self.delays[:4 * 3]:
            source = [2, 1][int(scan)]
            row = self.model_row(int(station) + 1, source, since)
            t = since - row['TIME'] * DAY_S
            power = t ** np.arange(8)
            # what a track promises
            self.assertAlmostEqual(row['GDELAY_1'] @ power, tau_s, delta=1e-14)
            self.assertLess(abs(row['GDELAY_1'] @ power), 0.0215)
            # negative where the source is above the horizon
            ra, dec = SOURCES_RAD[source - 1]
            matrix = erfa.c2t06a(*terrestrial_time(since), 2400000.5 + MJD,
                                 (since + UT1_MINUS_UTC_S) / DAY_S, *POLE_RAD)
            geometric = -(matrix @ erfa.s2c(ra, dec)) @ POSITION_M[int(station)] / LIGHT_M_PER_S
            clock = 2.5e-6 if station == 0 else 0.0
            self.assertAlmostEqual(tau_s, geometric + clock, delta=3e-4 * 0.0215)  # aberration
            n_checked += 1
        self.assertEqual(n_checked, 12)

    def test_components_make_up_the_delay(self):
        """GDELAY + ATMOS - CLOCK (HISTORY says so) is the polynomial at its start, and the values
        carried on by their rates are those of the model within a piece: what the rates leave is
        acceleration, 1.1e-10 s/s^2 of the whole, 1e-12 of the atmosphere."""
        model, parts = self.table('INTERFEROMETER_MODEL').data, self.table('MODEL_COMPS').data
        for key in ('TIME', 'SOURCE_ID', 'ANTENNA_NO'):
            np.testing.assert_array_equal(parts[key], model[key])
        whole = parts['GDELAY'] + parts['ATMOS'] - parts['CLOCK_1']
        np.testing.assert_allclose(whole, model['GDELAY_1'][:, 0], rtol=0, atol=1e-17)
        rate = parts['GRATE'] + parts['DATMOS'] - parts['DCLOCK_1']
        np.testing.assert_allclose(rate, model['GDELAY_1'][:, 1], rtol=0, atol=1e-20)
        np.testing.assert_array_equal(parts['CLOCK_1'], parts['CLOCK_2'])
        for scan, station, since, _, atmosphere_s, clock_s in self.delays[:4 * 3]:
            source = [2, 1][int(scan)]
            row = parts[(parts['SOURCE_ID'] == source) & (parts['ANTENNA_NO'] == station + 1)
                        & (parts['TIME'] * DAY_S <= since)][-1]
            t = since - row['TIME'] * DAY_S
            self.assertLess(t, 120)
            self.assertAlmostEqual(row['ATMOS'] + t * row['DATMOS'], atmosphere_s,
                                   delta=1e-12 * t**2 + 1e-15)
            self.assertAlmostEqual(-row['CLOCK_1'] - t * row['DCLOCK_1'], clock_s,
                                   delta=1e-17 * t**2 + 1e-16)

    def test_model_rates_and_phases_follow_from_the_delay(self):
        table = self.table('INTERFEROMETER_MODEL')
        self.assertEqual((table.header['NPOLY'], table.header['NO_POL']), (8, 2))
        self.assertEqual(self.table('INTERFEROMETER_MODEL', 'linear').header['NO_POL'], 1)
        sky_hz = np.array([8400e6, 8438e6])
        for row in table.data:
            delay = row['GDELAY_1']
            rate = np.append(np.arange(1, 8) * delay[1:], 0)
            np.testing.assert_allclose(row['GRATE_1'], rate, rtol=1e-15)
            # the polynomial's index is the fastest
            np.testing.assert_allclose(row['PDELAY_1'].reshape(2, 8), np.outer(sky_hz, delay),
                                       rtol=1e-15)
            np.testing.assert_allclose(row['PRATE_1'].reshape(2, 8), np.outer(sky_hz, rate),
                                       rtol=1e-15)
            for column in ('PDELAY', 'GDELAY', 'PRATE', 'GRATE', 'DISP', 'DDISP'):
                np.testing.assert_array_equal(row[column + '_1'], row[column + '_2'])
        self.assertTrue(np.all(np.diff(table.data['TIME']) >= 0))

    def test_nothing_is_nan(self):
        for file in self.files.values():
            for hdu in file[1:]:
                for column in hdu.columns.names:
                    values = hdu.data[column]
                    if values.dtype.kind == 'f':
                        self.assertTrue(np.all(np.isfinite(values)), column)


if __name__ == '__main__':
    unittest.main()
