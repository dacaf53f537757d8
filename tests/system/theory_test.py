# SPDX-License-Identifier: GPL-3.0-or-later
"""Amplitude, noise, delay and rate against theory, with fixed seeds. Every limit is set so that a
right program fails with a probability below 1e-6 for a fresh seed."""

import unittest
from dataclasses import replace
from fractions import Fraction

import numpy as np
from scipy.stats import chi2

import fringe
import idi_files
import program
import reference
import signals
from campaign import START, Campaign, Recorded, Station

LOW_HZ, WIDTH_HZ = 8400.0e6, 5.0e5
FS = 1_000_000
N_CHANNELS = 64
WIDTH = WIDTH_HZ / N_CHANNELS
EARLY = START - Fraction(8, 1000)
FALSE_ALARM = 1.0e-7
SIGMAS = 5.5  # of one normal number, two-sided: 4e-8
# Thompson, Emerson, Schwab 2007, Radio Science 42, RS3022, table 1; 1 and 2 bits: Thompson,
# Moran, Swenson 2017, section 8.3.
EFFICIENCY = {1: 0.636620, 2: 0.882518, 4: 0.988457, 8: 0.999912}
ALDER = Station("Alder", (1.823469e-3, 0.9e-6, 3.0e-8), 2.0e-6, 1.0e-8)
BIRCH = Station("Birch", (-1.700213e-3, -0.7e-6, -2.0e-8))
# A station's nearest sample is up to half a sample off, so two windows of 128 samples miss one
# another by 1/3 sample on average: that part of the correlation is lost.
# The rate shifts a station's view of the wave by up to 8 kHz, a channel: past the band's ends
# there is nothing to see, so the outer channels are left out.
INNER = slice(4, -4)
MISALIGNED = 1.0 - 1.0 / 3.0 / (2 * N_CHANNELS)


def campaign(folder, stations, scan_s, integration_s, **changes):
    names = tuple(s.name for s in stations)
    arguments = {"bands": {"low": reference.Band(LOW_HZ, WIDTH_HZ)},
                 "scans": [reference.Scan(START, scan_s, names, "Ousel")],
                 "n_channels": N_CHANNELS, "integration_s": integration_s,
                 "rotation": "planned"}
    arguments.update(changes)
    return Campaign(folder, stations, **arguments)


class Theory(program.SystemTest):
    def correlated(self, made):
        self.correlate(made.write(), self.folder / "out.fits")
        return idi_files.read(self.folder / "out.fits")

    def check_chi_square(self, what, parts, sigma):
        """parts: independent normal numbers of mean 0 and standard deviation sigma."""
        total, n = float(np.sum((parts / sigma) ** 2)), parts.size
        low, high = chi2.ppf(FALSE_ALARM / 2, n), chi2.isf(FALSE_ALARM / 2, n)
        print(f"{what}: chi-square {total:.1f} of {n}, allowed {low:.1f} to {high:.1f}",
              flush=True)
        self.assertTrue(low < total < high,
                        f"{what}: chi-square {total:.1f}, want {low:.1f} to {high:.1f}")


class Coefficient(Theory):
    """A common wave of coefficient 0.08 over half a second: 3840 segments, so that one component
    of a channel scatters by 0.0114 and the mean over the band by 0.0014."""

    RHO = 0.08
    heard = []

    def setUp(self):
        super().setUp()
        scan_s = Fraction(3840) / Fraction(WIDTH)
        self.scan_s, seconds = scan_s, Fraction(520, 1000)
        if not self.heard:
            made = campaign(self.folder, [ALDER, BIRCH], scan_s, scan_s)
            wave = signals.Wave(np.random.default_rng(1), LOW_HZ + WIDTH_HZ / 2, WIDTH_HZ, EARLY,
                                seconds)
            tuned = signals.Receiver(LOW_HZ, FS)
            self.heard += [made.hear(np.random.default_rng(2 + k), station, tuned, [wave],
                                     self.RHO, EARLY, seconds)
                           for k, station in enumerate((ALDER, BIRCH))]

    def check(self, bits, corrected):
        made = campaign(self.folder, [ALDER, BIRCH], self.scan_s, self.scan_s,
                        correct_quantisation=corrected)
        for station, x in zip(("Alder", "Birch"), self.heard):
            made.record_vdif(station, [Recorded(signals.Receiver(LOW_HZ, FS), x)], bits, 8000,
                             start=EARLY)
        file = self.correlated(made)
        v = file.visibility[file.rows("Alder", "Birch"), 0, INNER, 0]
        eta = EFFICIENCY[bits]
        # Noise of quantised data is that of white noise of unit power; corrected, 1/eta of it.
        sigma = np.sqrt(0.5 / 3840) / (eta if corrected else 1.0)
        want = self.RHO * MISALIGNED * (1.0 if corrected else eta)
        what = f"{bits} bits, " + ("corrected" if corrected else "as it is")
        self.check_chi_square(what, np.concatenate([v.real - want, v.imag]), sigma)
        self.check_near(f"{what}: mean", np.mean(v).real, want, SIGMAS * sigma / np.sqrt(v.size))
        self.check_near(f"{what}: mean", np.mean(v).imag, 0.0, SIGMAS * sigma / np.sqrt(v.size))
        auto = file.visibility[file.rows("Alder", "Alder"), 0, INNER, 0]
        self.check_near("autocorrelation", np.mean(auto).real, 1.0,
                        SIGMAS / np.sqrt(3840 * auto.size))
        self.check_near("autocorrelation", auto.imag, 0.0, 1e-7)

    def test_as_it_is(self):
        for bits in EFFICIENCY:
            self.check(bits, False)

    def test_corrected(self):
        for bits in EFFICIENCY:
            self.check(bits, True)


class Noise(Theory):
    def test_scatter_is_one_over_root_2bt(self):
        """No common wave: 40 integrations of 50 segments."""
        integration = Fraction(50) / Fraction(WIDTH)
        made = campaign(self.folder, [ALDER, BIRCH], 40 * integration, integration)
        for k, (station, is_complex) in enumerate((("Alder", False), ("Birch", True))):
            tuned = signals.Receiver(LOW_HZ + is_complex * WIDTH_HZ / 2, FS >> is_complex,
                                     is_complex)
            x = signals.noise(np.random.default_rng(20 + k), tuned,
                              tuned.sample_rate_hz * 280 // 1000)
            made.record_vdif(station, [Recorded(tuned, x)], 2, 8000 >> is_complex, start=EARLY)
        file = self.correlated(made)
        v = file.visibility[file.rows("Alder", "Birch"), 0, INNER, 0]
        self.assertEqual(v.shape, (40, N_CHANNELS - 8))
        seconds = float(integration)
        self.check_chi_square("noise", np.concatenate([v.real, v.imag]),
                              1.0 / np.sqrt(2 * WIDTH * seconds))


class Residual(Theory):
    """Phase over frequency and time of a wave of coefficient 0.3."""

    RHO = 0.3

    def observe(self, stations_of_the_job, tuned):
        integration = Fraction(125) / Fraction(WIDTH)
        made = campaign(self.folder, stations_of_the_job, 25 * integration, integration)
        seconds = Fraction(440, 1000)
        wave = signals.Wave(np.random.default_rng(30), LOW_HZ + WIDTH_HZ / 2, WIDTH_HZ, EARLY,
                            seconds)
        for k, station in enumerate((ALDER, BIRCH)):
            x = made.hear(np.random.default_rng(31 + k), station, tuned[k], [wave], self.RHO,
                          EARLY, seconds)
            made.record_vdif(station.name, [Recorded(tuned[k], x)], 2,
                             tuned[k].sample_rate_hz // 125, start=EARLY)
        file = self.correlated(made)
        rows = file.rows("Alder", "Birch")
        time = np.array([float(file.middle[k] - START) for k in rows])
        return time, file.channel_hz[0, INNER], file.visibility[rows, 0, INNER, 0]

    def check(self, job_stations, tuned, want_delay_s, want_rate):
        (delay, delay_error), (rate, rate_error) = fringe.fit(
            *self.observe(job_stations, tuned), self.RHO * EFFICIENCY[2], np.sqrt(0.5 / 125))
        print(f"delay {delay:.3e} +- {delay_error:.1e} s, rate {rate:.3e} +- {rate_error:.1e}",
              flush=True)
        self.check_near("delay", delay, want_delay_s, SIGMAS * delay_error, "s")
        self.check_near("rate", rate, want_rate, SIGMAS * rate_error, "s/s")

    def test_none_with_the_right_model(self):
        kinds = (signals.Receiver(LOW_HZ, FS), signals.Receiver(LOW_HZ + WIDTH_HZ, FS, False, -1),
                 signals.Receiver(LOW_HZ + WIDTH_HZ / 2, FS // 2, True, -1))
        for tuned in ((kinds[0], kinds[0]), (kinds[1], kinds[0]), (kinds[0], kinds[2])):
            self.check([ALDER, BIRCH], tuned, 0.0, 0.0)

    def test_sign_of_a_wrong_delay_and_rate(self):
        """The job's delay of Alder is 0.2 us and 3e-11 s/s too small; the delay then counts in
        the middle of the scan."""
        wrong = replace(ALDER, delay_s=(ALDER.delay_s[0] - 0.2e-6, ALDER.delay_s[1] - 3e-11,
                                        ALDER.delay_s[2]))
        for sideband in (1, -1):
            tuned = signals.Receiver(LOW_HZ if sideband > 0 else LOW_HZ + WIDTH_HZ, FS, False,
                                     sideband)
            self.check([wrong, BIRCH], (tuned, tuned), 0.2e-6, 3e-11)


class FastFringes(Theory):
    """230 GHz, two stations on opposite sides of the Earth at its full speed of rotation, and no
    noise: coherence lost to the fringe's turning within a segment. The rate shifts the band by
    0.36 MHz at each station; what folds back at the band's ends leaks 23/(pi k)^2 of its power k
    channels away, so only the middle half of the band is looked at."""

    RATE = 1.55e-6  # 465 m/s over the speed of light
    BAND_HZ = 16.0e6

    def coherence(self, low_hz, n_channels, rate):
        """Mean over channels of V over the geometric mean of the autocorrelations: free of the
        wave's own scatter. Without any loss but that of misaligned windows it is 1 - 1/3/n."""
        alder = Station("Alder", (1.823469e-3, rate, 3.0e-11))
        birch = Station("Birch", (-1.700213e-3, -rate, -2.0e-11))
        segments = 256
        width = Fraction(self.BAND_HZ) / n_channels
        integration = segments / width
        made = campaign(self.folder, [alder, birch], integration, integration,
                        n_channels=n_channels,
                        bands={"low": reference.Band(low_hz, self.BAND_HZ)})
        start = START - Fraction(2, 1000)
        seconds = integration + Fraction(4, 1000)
        wave = signals.Wave(np.random.default_rng(50), low_hz + self.BAND_HZ / 2, self.BAND_HZ,
                            start, seconds)
        tuned = signals.Receiver(low_hz, int(2 * self.BAND_HZ))
        for station in (alder, birch):
            x = made.hear(np.random.default_rng(0), station, tuned, [wave], 1.0, start, seconds)
            made.record_sound(station.name, [Recorded(tuned, x)], start=start, subtype="FLOAT")
        file = self.correlated(made)
        outer = n_channels // 4
        a, b, c = (file.visibility[file.rows(*pair)[0], 0, outer:-outer, 0]
                   for pair in (("Alder", "Alder"), ("Birch", "Birch"), ("Alder", "Birch")))
        coherence = np.real(c) / np.sqrt(a.real * b.real)
        return float(np.mean(coherence)), 1.0 - 1.0 / 3.0 / (2 * n_channels)

    def test_loses_under_a_thousandth(self):
        for low_hz, n_channels, rate in ((230.0e9, 512, self.RATE), (230.0e9, 80, self.RATE),
                                         (8400.0e6, 512, self.RATE), (8400.0e6, 512, 1.0e-9)):
            got, want = self.coherence(low_hz, n_channels, rate)
            print(f"{low_hz / 1e9} GHz, {n_channels} channels, rate {rate}: coherence {got:.6f}, "
                  f"{want:.6f} without loss", flush=True)
            self.assertGreater(got, want - 1.0e-3)
            # Which half-samples are hit moves the misaligned part by its own size at most.
            self.check_near("coherence", got, want, 1e-4 + (1.0 - want))


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
