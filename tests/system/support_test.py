# SPDX-License-Identifier: GPL-3.0-or-later
"""The outsider's tools themselves, held against the standard's figures, closed forms and one
another, before they judge the program."""

import unittest
from fractions import Fraction

import numpy as np

import jobs
import program
import reference
import signals
import sound_files
import times
import vdif_files
from campaign import START, Campaign, Recorded, Station

EDGE_HZ = 8400.0e6
FS = 1_000_000


class Times(unittest.TestCase):
    def test_seconds_count_leap_seconds(self):
        # TAI-UTC was 32 s in 2000 and 37 s in 2026 (IERS Bulletin C 16 and 52).
        days = 26 * 365 + 7 + 59
        self.assertEqual(times.parse("2026-03-01T00:00:00.25"),
                         days * 86400 + 5 + Fraction(1, 4))

    def test_text_comes_back(self):
        for text in ("2026-03-01T12:00:00", "2016-12-31T23:59:60", "2024-02-29T01:02:03.000000125"):
            self.assertEqual(times.text(times.parse(text)), text)


class Vdif(program.SystemTest):
    def test_header_of_a_worked_example(self):
        # VDIF Specification 1.1.1, figure 3, by hand: real, 2 channels, 2 bits, 8032-byte frame,
        # thread 3, station "Al", frame 7 of 2024-05-02T10:00:01; EDV 1, 32 MHz, "GROVE-01".
        t = times.parse("2024-05-02T10:00:01")
        epoch, origin = vdif_files.reference_epoch(t)
        made = vdif_files.header(int(t - origin), 7, 8032, 2, epoch=epoch, thread=3, n_channels=2,
                                 station=0x416C, version=0,
                                 extended=(0x01800020, 0xACABFEED, 0x564F5247, 0x31302D45))
        self.assertEqual(made.hex(" "), "a1 63 a1 00 07 00 00 30 ec 03 00 01 6c 41 03 04 "
                         "20 00 80 01 ed fe ab ac 47 52 4f 56 45 2d 30 31")

    def test_payload_of_a_worked_example(self):
        codes = vdif_files.unpack(bytes.fromhex("9c3a056f"), 2, False, 2)
        self.assertEqual(codes.tolist(), [[0, 3], [1, 2], [2, 2], [3, 0], [1, 1], [0, 0], [3, 3],
                                          [2, 1]])

    def test_files_come_back(self):
        generator = np.random.default_rng(1)
        for bits in (1, 2, 4, 8, 16):
            for is_complex in (False, True):
                for n_channels in (1, 4):
                    for legacy in (False, True):
                        shape = (1280, n_channels) + ((2,) if is_complex else ())
                        codes = generator.integers(0, 1 << bits, shape, dtype=np.uint32)
                        layout = vdif_files.Layout(START + Fraction(1, 2), 12800, bits, is_complex,
                                                   256, legacy)
                        path = self.folder / "a.vdif"
                        vdif_files.write(path, layout, [
                            vdif_files.Thread(codes, 5, missing=(1,), invalid=(3,)),
                            vdif_files.Thread(codes[::-1], 2)])
                        frames = vdif_files.read(path)
                        self.assertEqual([(f.thread, f.number) for f in frames][:4],
                                         [(2, 25), (5, 25), (2, 26), (2, 27)])
                        mine = [f for f in frames if f.thread == 5]
                        self.assertEqual([f.number for f in mine], [25, 27, 28, 29])
                        self.assertEqual([f.invalid for f in mine], [False, False, True, False])
                        self.assertTrue(all(f.legacy == legacy and f.bits == bits for f in mine))
                        back = np.concatenate([f.codes for f in frames if f.thread == 2])
                        self.assertTrue(np.array_equal(back, codes[::-1]))


class Sound(program.SystemTest):
    def test_files_come_back(self):
        x = np.random.default_rng(2).standard_normal(4000)
        z = x + 1j * x[::-1]
        for kind, subtype in (("WAV", "PCM_16"), ("FLAC", "PCM_24"), ("RF64", "PCM_16"),
                              ("W64", "PCM_16"), ("WAV", "FLOAT")):
            held = sound_files.write(self.folder / "a.snd", [z, x], 48000, kind=kind,
                                     subtype=subtype, full_scale_sigma=8.0)
            step = np.max(np.abs(held[1])) / np.max(np.abs(x))
            limit = 1e-7 if subtype == "FLOAT" else 1.01 / step
            self.check_near(f"{kind} {subtype}", held[0] / step, z, 2 * limit)


class Yaml(unittest.TestCase):
    def test_nested_lists_and_dictionaries(self):
        self.assertEqual(
            jobs.dump({"a": [{"b": 1, "c": [1.5, "x y"]}], "d": True, "e": "12:34:56"}),
            'a:\n  - b: 1\n    c:\n      - 1.5\n      - "x y"\nd: true\ne: 12:34:56')


class Efficiency(unittest.TestCase):
    def test_against_the_published_tables(self):
        # Thompson, Emerson, Schwab 2007, Radio Science 42, RS3022, table 1; 1 and 2 bits:
        # Thompson, Moran, Swenson 2017, section 8.3. Limit: half of the last digit.
        self.assertAlmostEqual(reference.efficiency(1.0, 1), 0.636620, delta=5e-7)
        for bits, eta in ((2, 0.882518), (4, 0.988457), (8, 0.999912)):
            step = vdif_files.STEP_SIGMA[bits]
            x, dx = np.linspace(-9, 9, 1_800_001, retstep=True)
            q = vdif_files.decode(vdif_files.quantise(x, bits), bits, False)
            mean_square = np.sum(q**2 * np.exp(-x**2 / 2)) * dx / np.sqrt(2 * np.pi)
            self.assertGreater(step, 0)
            self.assertAlmostEqual(reference.efficiency(mean_square, bits), eta, delta=2e-6)


class Waves(unittest.TestCase):
    def test_interpolation_is_that_of_the_long_transform(self):
        """A constant shift by the Kaiser-windowed sinc equals a phase ramp over the whole
        periodic spectrum."""
        wave = signals.Wave(np.random.default_rng(3), EDGE_HZ, 5e5, START, Fraction(1, 50))
        n, shift = len(wave.envelope), 0.3712
        spectrum = np.fft.fft(wave.envelope)
        ramp = np.exp(2j * np.pi * np.fft.fftfreq(n) * shift)
        ramped = np.fft.ifft(spectrum * ramp)
        read = wave.read(np.arange(n) + shift)
        self.assertLess(np.max(np.abs(read - ramped)), 4e-8)  # 4 sigma of the noise
        # Noise of unit power: its mean square scatters by 1/sqrt(n/2).
        self.assertAlmostEqual(np.mean(np.abs(wave.envelope)**2), 1.0, delta=6 / np.sqrt(n / 2))

    def test_arrival_solves_its_equation(self):
        tau = signals.polynomial([1.2e-3, 3e-6, 1e-7])
        lag = signals.arrival_delay(tau, START, 1000, 5000)
        tag = np.arange(5000, dtype=np.longdouble) / 1000
        self.assertLess(float(np.max(np.abs(tau(tag - lag) - lag))), 1e-18)

    def test_band_of_every_kind_of_stream(self):
        """A wave in one quarter of the band shows in the bins where its sky frequencies stand."""
        for is_complex in (False, True):
            for sideband in (1, -1):
                receiver = signals.Receiver(EDGE_HZ, FS, is_complex, sideband)
                width = receiver.bandwidth_hz()
                low = receiver.centre_hz() - width / 2 if is_complex else (
                    EDGE_HZ if sideband > 0 else EDGE_HZ - width)
                wave = signals.Wave(np.random.default_rng(4), low + 0.375 * width, 0.25 * width,
                                    START, Fraction(1, 50))
                x = signals.received(wave, receiver, signals.polynomial([1e-4]), START, 16000)
                spectrum = np.mean(np.abs(np.fft.fft(x.reshape(-1, 64), axis=1))**2, axis=0)
                sky = EDGE_HZ + sideband * np.fft.fftfreq(64, 1 / FS)
                if not is_complex:
                    sky = EDGE_HZ + sideband * np.abs(np.fft.fftfreq(64, 1 / FS))
                inside = np.abs(sky - wave.centre_hz) < 0.1 * width
                outside = np.abs(sky - wave.centre_hz) > 0.2 * width
                self.assertGreater(np.min(spectrum[inside]), 30 * np.max(spectrum[outside]))


def two_stations(folder, receivers, taus, seed, rho, **options):
    """Float recordings of one wave by Alder and by Birch, with its own noise in each; receivers
    holds those of Alder and those of Birch."""
    generator = np.random.default_rng(seed)
    stations = [Station("Alder", taus[0], 2.0e-6, 1e-9), Station("Birch", taus[1])]
    bands = {"low": reference.Band(EDGE_HZ, 5e5)}
    scans = [reference.Scan(START, Fraction(128, 1000), ("Alder", "Birch"), "Ousel")]
    campaign = Campaign(folder, stations, bands, scans, n_channels=32,
                        integration_s=Fraction(64, 1000), **options)
    wave = signals.Wave(generator, EDGE_HZ + 2.5e5, 5e5, START, Fraction(2, 10))
    for station, kinds in zip(stations, receivers):
        for receiver in kinds:
            x = signals.station_signal(
                generator, receiver, [signals.Part(wave, lambda t, s=station: s.tau(t)[0], rho)],
                1.0 - rho, START, receiver.sample_rate_hz * 14 // 100)
            campaign.record_sound(station.name, [Recorded(receiver, x)], subtype="FLOAT")
    return campaign


REAL_UPPER = signals.Receiver(EDGE_HZ, FS, False, 1)
REAL_LOWER = signals.Receiver(EDGE_HZ + 5e5, FS, False, -1)
COMPLEX_UPPER = signals.Receiver(EDGE_HZ + 2.5e5, FS // 2, True, 1)
COMPLEX_LOWER = signals.Receiver(EDGE_HZ + 2.5e5, FS // 2, True, -1)


class Reference(program.SystemTest):
    """Noise waves of a known delay come out flat in phase with the known coefficient."""

    RHO = 0.5

    def test_all_kinds_of_streams(self):
        """One component of a channel scatters by sqrt((1 + rho^2) / 2 / 1000 segments), the mean
        over 31 channels by 1/sqrt(31) of that. 7 sigma: 3e-12 of false alarm a number, 1e-8 for
        all."""
        kinds = (REAL_UPPER, REAL_LOWER, COMPLEX_UPPER, COMPLEX_LOWER)
        taus = [(3.0e-3, 1.5e-6, 2e-8), (1.0e-3, -1.1e-6)]
        campaign = two_stations(self.folder, (kinds, kinds), taus, 10, self.RHO,
                                rotation=reference.BEFORE)
        sigma = np.sqrt((1 + self.RHO**2) / 2 / 1000)
        for a in range(4):
            for b in range(4):
                setup = campaign.setup()
                setup.streams = [setup.streams[a], setup.streams[4 + b]]
                rows = [r for r in reference.correlate(setup) if r.i != r.j]
                self.assertEqual(len(rows), 2)
                for row in rows:
                    v = row.visibility[0, 1:, 0]
                    for part, want in ((np.real, self.RHO), (np.imag, 0.0)):
                        self.check_near("mean", part(np.mean(v)), want, 7 * sigma / np.sqrt(31))
                        self.check_near("channel", part(v), want, 7 * sigma)
                    self.assertEqual(row.weight[0, 0], 1.0)

    def test_both_rotations_agree_at_low_rate(self):
        taus = [(3.0e-3, 1.0e-9), (1.0e-3, -2.0e-9)]
        kinds = ([REAL_UPPER], [COMPLEX_LOWER])
        rows = [reference.correlate(two_stations(self.folder, kinds, taus, 9, self.RHO,
                                                 rotation=rotation).setup())
                for rotation in (reference.BEFORE, reference.AFTER)]
        for before, after in zip(*rows):
            # 2 pi * 8.4e9 Hz * 2e-9 * 32 us = 3e-3 rad at the ends of a segment.
            self.check_near("visibility", after.visibility, before.visibility, 5e-3)

    def test_one_segment_by_an_explicit_sum(self):
        setup = two_stations(self.folder, ([REAL_LOWER], [COMPLEX_UPPER]),
                             [(3.0e-3, 1.5e-6), (1.0e-3,)], 5, self.RHO).setup()
        stream, band = setup.streams[0], setup.bands[0]
        taken = reference.take(setup, stream, START, 3)
        spectrum = reference.channels_of(setup, stream, taken, START, band, list(range(32)))
        k, c = 2, 7
        t = float(k) / 15625.0
        tau, rate = setup.tau["Alder"](np.longdouble(t) + np.longdouble(63) / (2 * FS))
        p = (np.longdouble(t) + tau) * FS
        n0 = int(np.floor(p + np.longdouble(0.5)))
        d = float(p - n0)
        g = 7 * 15625.0 - 5e5
        total = sum(stream.x[n0 + m] * np.exp(-2j * np.pi * (g / 15625.0) * m / 64)
                    for m in range(64))
        zero = EDGE_HZ + 5e5
        turns = (float(np.longdouble(zero) * tau % 1) + g * d / FS
                 - (zero - 2.5e5) * float(rate) * d / FS
                 + float(Fraction(500000) * (START + Fraction(k, 15625)) % 1))
        self.check_near("channel", spectrum[k, c], total * np.exp(2j * np.pi * turns), 1e-9)

    def test_swapped_stations_conjugate(self):
        campaign = two_stations(self.folder, ([REAL_UPPER], [REAL_UPPER]),
                                [(1e-4, 1e-6), (0.0,)], 6, self.RHO)
        ahead = reference.correlate(campaign.setup())
        turned = campaign.setup()
        turned.stations = ("Birch", "Alder")
        back = reference.correlate(turned)
        forth = [r.visibility for r in ahead if (r.i, r.j) == ("Alder", "Birch")]
        returned = [r.visibility for r in back if (r.i, r.j) == ("Birch", "Alder")]
        self.check_near("visibility", returned, np.conj(forth), 1e-14)

    def test_missing_samples_weigh_less(self):
        campaign = two_stations(self.folder, ([REAL_UPPER], [REAL_UPPER]), [(0.0,), (0.0,)], 7,
                                self.RHO)
        campaign.stations[0].ahead_s = campaign.stations[0].clock_rate = 0.0
        campaign.streams[0].valid[:16000] = False
        campaign.streams[1].valid[8000:24000] = False
        rows = reference.correlate(campaign.setup())
        cross = [r for r in rows if r.i != r.j][0]
        self.assertAlmostEqual(cross.weight[0, 0], 40000 / 64000, delta=1e-12)


class Orientation(unittest.TestCase):
    def test_earth_orientation_days_surround_the_instant(self):
        days = jobs.earth_orientation_days(START)["days"]
        self.assertEqual([d["date"] for d in days], ["2026-02-27", "2026-02-28", "2026-03-01",
                                                     "2026-03-02", "2026-03-03", "2026-03-04"])


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=2)
