# SPDX-License-Identifier: GPL-3.0-or-later
"""What is watched while correlating: sampler states, phase-calibration tones, kurtosis flags.

Two stations at rest hear the same noise. Their receivers delay and turn it, and with it the tones
of a generator that is in phase at whole seconds; one band is upper sideband, the other lower.
"""

import json
import unittest
from fractions import Fraction

import numpy as np
from astropy.io import fits

import idi_files
import jobs
import program
import sound_files
import times
import vdif_files

START = times.parse("2026-03-01T12:00:00")
RATE_HZ = 1000000
FRAME = 8000  # samples
EDGE_HZ = 8400.03e6
BANDWIDTH_HZ = 5.0e5
N_CHANNELS = 25
SPACING_HZ = 50000
TONES_HZ = np.arange(8400.05e6, EDGE_HZ + BANDWIDTH_HZ, SPACING_HZ)
MIDDLE_HZ = EDGE_HZ + BANDWIDTH_HZ / 2
# Receivers: phase at the band's middle and delay of R.
PHASE = {"Alder": 0.8, "Birch": -1.9}
DELAY_S = {"Alder": 1.31e-6, "Birch": -1.97e-6}
ZERO_HZ = {"Alder": EDGE_HZ, "Birch": EDGE_HZ + BANDWIDTH_HZ}  # Birch: lower sideband
AMPLITUDE = 0.06
SEED = 11


def receiver_phase(name, sky_hz):
    return PHASE[name] - 2 * np.pi * (sky_hz - MIDDLE_HZ) * DELAY_S[name]


def common_spectrum(generator):
    """Amplitudes of the noise at the band's whole hertz, one second of it."""
    n = int(BANDWIDTH_HZ)
    return (generator.standard_normal(n) + 1j * generator.standard_normal(n)) * np.sqrt(0.5 / n)


def heard(name, spectrum):
    """Real samples of one second: sky frequency edge + k Hz stands at |sky - zero|."""
    sky_hz = EDGE_HZ + np.arange(len(spectrum))
    bins = np.zeros(RATE_HZ, dtype=complex)
    turned = spectrum * np.exp(1j * receiver_phase(name, sky_hz))
    bins[np.rint(sky_hz - ZERO_HZ[name]).astype(int) % RATE_HZ] = turned
    return np.sqrt(2) * np.fft.ifft(bins).real * RATE_HZ


def tones(name, first=0, n=RATE_HZ):
    """From sample `first`, counted from a whole second, on."""
    t = (first + np.arange(n)) / RATE_HZ
    return sum(np.cos(2 * np.pi * (hz - ZERO_HZ[name]) * t + receiver_phase(name, hz))
               for hz in TONES_HZ)


def record(folder, *, pulses=False):
    """One second of two stations; correlation coefficient of R 0.3."""
    generator = np.random.default_rng(SEED)
    spectrum = common_spectrum(generator)
    t = np.arange(RATE_HZ) / RATE_HZ
    for name in PHASE:
        right = np.sqrt(0.3) * heard(name, spectrum) + \
            np.sqrt(0.7) * generator.standard_normal(RATE_HZ) + AMPLITUDE * tones(name)
        if pulses and name == "Birch":
            on = (t >= 0.5) & (np.arange(RATE_HZ) % 10000 < 1000)
            right = right + 0.4 * np.cos(2 * np.pi * 157500.0 * t) * on
        left = generator.standard_normal(RATE_HZ)
        layout = vdif_files.Layout(START, RATE_HZ, 2, samples_per_frame=FRAME)
        vdif_files.write(folder / f"{name}.vdif", layout,
                         [vdif_files.Thread(vdif_files.quantise(x / x.std(), 2)[:, None],
                                            number=k) for k, x in enumerate((right, left))])


def write_job(folder, **changes):
    for name in PHASE:
        (folder / f"{name}.txt").write_text("".join(
            f"2026-03-01T{clock} 0.0\n" for clock in ("11:59:00", "11:59:30", "12:00:00",
                                                      "12:00:30", "12:01:00", "12:01:30")))
    stream = {"Alder": {"edge_hz": EDGE_HZ, "sideband": "upper"},
              "Birch": {"edge_hz": EDGE_HZ + BANDWIDTH_HZ, "sideband": "lower"}}
    job = {
        "campaign": "Forest-7",
        "stations": [{"name": name, "position_itrf_m": [3900000.0 + 1e3 * k, 800000.0, 4970000.0],
                      "delay_table": f"{name}.txt"} for k, name in enumerate(PHASE)],
        "sources": [{"name": "Ousel", "right_ascension_deg": 188.0, "declination_deg": 12.0}],
        "scans": [{"name": "S01", "source": "Ousel", "start": "2026-03-01T12:00:00",
                   "duration_s": 1.0}],
        "bands": [{"name": "low", "edge_hz": EDGE_HZ, "bandwidth_hz": BANDWIDTH_HZ,
                   "sideband": "upper"}],
        "recordings": [{"station": name, "files": [f"{name}.vdif"], "sample_rate_hz": RATE_HZ,
                        "streams": [{**stream[name], "polarization": p, "thread": k}
                                    for k, p in enumerate("RL")]} for name in PHASE],
        "correlation": {"channels": N_CHANNELS, "integration_s": 0.5,
                        "polarization_products": ["RR", "LL"]},
        "earth_orientation": jobs.earth_orientation_days(START), **changes}
    path = folder / "job.yaml"
    jobs.write(path, job)
    return path


class Monitor(program.SystemTest):
    def setUp(self):
        super().setUp()
        record(self.folder)

    def run_job(self, **changes):
        path = write_job(self.folder, **changes)
        out = self.folder / "out.fits"
        done = self.correlate(path, out, "--json")
        return json.loads(done.out), out

    def test_states_are_in_the_summary(self):
        """0.1632 0.3368 0.3368 0.1632 at thresholds of 0.98159 sigma (Max 1960, IRE Trans. IT-6,
        7), from 2 times 4096 samples: five sigma."""
        got, _ = self.run_job()
        for stream in got["streams"]:
            sampler = stream["samplers"][0]
            self.assertEqual(sampler["samples"], 8192)
            self.assertEqual(sampler["verdict"], "healthy")
            for fraction, want in zip(sampler["state_fractions"], (0.1632, 0.3368, 0.3368, 0.1632)):
                self.check_near("state", fraction, want, 5 * np.sqrt(want * (1 - want) / 8192))
        self.assertEqual((got["phase_cal_rows"], got["flagged_channel_integrations"]), (0, 0))
        text = self.correlate(self.folder / "job.yaml", self.folder / "out.fits").out
        self.assertIn("healthy", text)
        with fits.open(self.folder / "out.fits") as file:
            self.assertNotIn("PHASE-CAL", [unit.name for unit in file])
            self.assertNotIn("FLAG", [unit.name for unit in file])

    def test_tones_stand_in_the_table(self):
        """Phase noise of a tone of amplitude a in n real samples of unit power, quantised with
        efficiency e: 1/(a sqrt(n e/2)); five sigma."""
        got, out = self.run_job(phase_calibration={"spacing_hz": SPACING_HZ})
        self.assertEqual(got["phase_cal_rows"], 4)
        n = RATE_HZ // 2
        sigma = 1 / (AMPLITUDE * np.sqrt(n * 0.8825 / 2))
        with fits.open(out) as file:
            table = file["PHASE-CAL"]
            head, rows = table.header, table.data
            self.assertEqual((head["TABREV"], head["NO_POL"], head["NO_TONES"]), (2, 2, 11))
            self.assertEqual([(c.name, c.format) for c in table.columns], [
                ("TIME", "1D"), ("TIME_INTERVAL", "1E"), ("SOURCE_ID", "1J"), ("ANTENNA_NO", "1J"),
                ("ARRAY", "1J"), ("FREQID", "1J"), ("CABLE_CAL", "1D"),
                ("STATE_1", "4E"), ("PC_FREQ_1", "11D"), ("PC_REAL_1", "11E"),
                ("PC_IMAG_1", "11E"), ("PC_RATE_1", "11E"),
                ("STATE_2", "4E"), ("PC_FREQ_2", "11D"), ("PC_REAL_2", "11E"),
                ("PC_IMAG_2", "11E"), ("PC_RATE_2", "11E")])
            self.assertEqual(list(rows["ANTENNA_NO"]), [1, 2, 1, 2])
            self.check_near("TIME", rows["TIME"] * 86400 - 43200, [0.25, 0.25, 0.75, 0.75], 1e-6)
            self.check_near("TIME_INTERVAL", rows["TIME_INTERVAL"] * 86400, 0.5, 1e-6)
            self.assertTrue(np.all(np.isnan(rows["CABLE_CAL"])))
            for row in rows:
                name = ("Alder", "Birch")[row["ANTENNA_NO"] - 1]
                self.check_near("states", row["STATE_1"], (16.32, 33.68, 33.68, 16.32),
                                500 * np.sqrt(0.3368 * 0.6632 / 4096))
                there = row["PC_FREQ_1"] > 0
                self.assertEqual(list(row["PC_FREQ_1"][there]), list(TONES_HZ))
                self.assertTrue(np.all(np.isnan(row["PC_REAL_1"][~there])))
                tone = (row["PC_REAL_1"] + 1j * row["PC_IMAG_1"])[there]
                off = np.angle(tone * np.exp(-1j * receiver_phase(name, TONES_HZ)))
                self.check_near("phase", off, 0, 5 * sigma, "rad")
                self.check_near("amplitude", np.abs(tone), AMPLITUDE * np.sqrt(0.8825 / 2), 5e-3)
                # halves 0.25 s apart, each with sqrt(2) times the noise of the whole
                self.check_near("rate", row["PC_RATE_1"][there], 0,
                                5 * 2 * sigma / (2 * np.pi * 8.4e9 * 0.25))

    def test_tones_of_sound_files_that_begin_within_a_second(self):
        """Phases are those at whole seconds, wherever a file begins; limits as above, with the
        efficiency of 16 bits."""
        generator = np.random.default_rng(SEED)
        recordings = []
        for name, sideband in (("Alder", "upper"), ("Birch", "lower")):
            first = {"Alder": -271828, "Birch": -500001}[name]
            x = generator.standard_normal(RATE_HZ - first) + \
                AMPLITUDE * tones(name, first, RATE_HZ - first)
            left = generator.standard_normal(len(x))
            sound_files.write(self.folder / f"{name}.wav", [x, left], RATE_HZ)
            start = START + Fraction(first, RATE_HZ)
            streams = [{"edge_hz": ZERO_HZ[name], "sideband": sideband, "polarization": p,
                        "channel": k} for k, p in enumerate("RL")]
            recordings.append({"station": name, "files": [f"{name}.wav"],
                               "start": times.text(start), "streams": streams})
        _, out = self.run_job(phase_calibration={"spacing_hz": SPACING_HZ}, recordings=recordings)
        sigma = 1 / (AMPLITUDE * np.sqrt(RATE_HZ / 2 / 2))
        power = 1 + len(TONES_HZ) * AMPLITUDE ** 2 / 2
        with fits.open(out) as file:
            rows = file["PHASE-CAL"].data
            self.assertEqual(list(rows["ANTENNA_NO"]), [1, 2, 1, 2])
            for row in rows:
                name = ("Alder", "Birch")[row["ANTENNA_NO"] - 1]
                there = row["PC_FREQ_1"] > 0
                self.assertEqual(list(row["PC_FREQ_1"][there]), list(TONES_HZ))
                tone = (row["PC_REAL_1"] + 1j * row["PC_IMAG_1"])[there]
                off = np.angle(tone * np.exp(-1j * receiver_phase(name, TONES_HZ)))
                self.check_near(f"phase {name}", off, 0, 5 * sigma, "rad")
                self.check_near("amplitude", np.abs(tone), AMPLITUDE / np.sqrt(2 * power),
                                5 * sigma * AMPLITUDE / np.sqrt(2))

    def visibility(self, path):
        file = idi_files.read(path)
        rows = file.rows("Alder", "Birch")
        return np.mean(file.visibility[rows, 0, :, 0], axis=0)

    def test_phases_are_taken_out_when_asked(self):
        """A second holds 20000 segments: noise 1/sqrt(2 x 20000) of each part of a coefficient near
        0.27, and that of the phases of ten tones at each station. The first channel is left out:
        it takes half of its width from outside of the band."""
        _, plain = self.run_job(phase_calibration={"spacing_hz": SPACING_HZ})
        hz = EDGE_HZ + np.arange(1, N_CHANNELS) * BANDWIDTH_HZ / N_CHANNELS
        want = receiver_phase("Alder", hz) - receiver_phase("Birch", hz)
        got = self.visibility(plain)[1:]
        limit = 5 / np.sqrt(40000) / 0.27
        self.check_near("as recorded", np.angle(got * np.exp(-1j * want)), 0, limit, "rad")
        summary, applied = self.run_job(
            phase_calibration={"spacing_hz": SPACING_HZ, "apply": True})
        self.assertEqual(summary["phase_cal_too_weak"], 4)  # L has no tones, twice, two stations
        got = self.visibility(applied)[1:]
        # phase and slope at the end of the band: twice the error at the middle, of two stations
        tones_sigma = 2 * np.sqrt(2) / (AMPLITUDE * np.sqrt(10 * RATE_HZ * 0.8825 / 2))
        self.check_near("calibrated", np.angle(got), 0, limit + 5 * tones_sigma, "rad")
        self.check_near("amplitude", np.abs(got), np.abs(self.visibility(plain)[1:]), 1e-6)

    def test_one_station_may_differ(self):
        path = write_job(self.folder, phase_calibration={"spacing_hz": SPACING_HZ})
        text = path.read_text().replace("delay_table: Birch.txt",
                                        "delay_table: Birch.txt\n    phase_calibration:\n"
                                        "      spacing_hz: 0")
        path.write_text(text)
        self.correlate(path, self.folder / "out.fits")
        with fits.open(self.folder / "out.fits") as file:
            self.assertEqual(set(file["PHASE-CAL"].data["ANTENNA_NO"]), {1})

    def test_pulses_are_flagged_where_and_when_they_are(self):
        """157.5 kHz below the edge of a lower sideband is 342.5 kHz above the band's: channel 17
        (from 0). Five sigma flag noise 6e-7 times in each of the 200 channels looked at."""
        record(self.folder, pulses=True)
        got, out = self.run_job(kurtosis={"flag_beyond_sigma": 5})
        with fits.open(out) as file:
            flags = file["FLAG"]
            self.assertEqual([(c.name, c.format) for c in flags.columns], [
                ("SOURCE_ID", "1J"), ("ARRAY", "1J"), ("ANTS", "2J"), ("FREQID", "1J"),
                ("TIMERANG", "2E"), ("BANDS", "1J"), ("CHANS", "2J"), ("PFLAGS", "4J"),
                ("REASON", "40A"), ("SEVERITY", "1J")])
            self.assertEqual(len(flags.data), 1)
            row = flags.data[0]
            self.assertEqual((row["ARRAY"], row["FREQID"], list(row["ANTS"]), row["REASON"]),
                             (0, -1, [2, 0], "spectral kurtosis"))
            self.assertEqual(list(row["PFLAGS"]), [1, 0, 0, 0])
            first, last = row["CHANS"]
            self.assertTrue(first <= 18 <= last and last - first <= 2, row["CHANS"])
            # single precision at half a day: 2.6 ms
            self.check_near("TIMERANG", row["TIMERANG"] * 86400.0 - 43200, (0.5, 1.0), 6e-3, "s")
            self.assertEqual(got["flagged_channel_integrations"], last - first + 1)

    def test_a_flag_that_goes_on_is_one(self):
        """A strong steady tone in both integrations, in the middle of a channel."""
        path = write_job(self.folder, kurtosis={"flag_beyond_sigma": 5})
        codes = vdif_files.quantise(
            np.random.default_rng(3).standard_normal(RATE_HZ)
            + np.cos(2 * np.pi * 120000.0 * np.arange(RATE_HZ) / RATE_HZ), 2)
        layout = vdif_files.Layout(START, RATE_HZ, 2, samples_per_frame=FRAME)
        vdif_files.write(self.folder / "Alder.vdif", layout,
                         [vdif_files.Thread(codes[:, None], number=k) for k in range(2)])
        self.correlate(path, self.folder / "out.fits")
        with fits.open(self.folder / "out.fits") as file:
            rows = [r for r in file["FLAG"].data if r["CHANS"][0] <= 7 <= r["CHANS"][1]]
            self.assertEqual(len(rows), 2)  # R and L
            for row in rows:
                self.check_near("TIMERANG", row["TIMERANG"] * 86400.0 - 43200, (0.0, 1.0), 6e-3)

    def test_any_number_of_threads_makes_the_same_file(self):
        record(self.folder, pulses=True)
        path = write_job(self.folder, kurtosis={"flag_beyond_sigma": 5},
                         phase_calibration={"spacing_hz": SPACING_HZ, "apply": True})
        for n in (1, 3):
            self.correlate(path, self.folder / f"{n}.fits", "--threads", n)
        self.assertEqual((self.folder / "1.fits").read_bytes(),
                         (self.folder / "3.fits").read_bytes())

    def test_faults_in_the_job_are_named(self):
        for changes, text in (
                ({"phase_calibration": {"spacing_hz": 0.5}}, "phase_calibration.spacing_hz"),
                ({"phase_calibration": {"apply": True}}, "spacing_hz"),
                ({"kurtosis": {"flag_beyond_sigma": 1}}, "kurtosis.flag_beyond_sigma"),
                ({"phase_calibration": {"spacing_hz": 77}}, "is the spacing right")):
            path = write_job(self.folder, **changes)
            done = program.run("correlate", path, "-o", self.folder / "out.fits")
            self.assertEqual(done.code, 1, done.err)
            self.assertIn(text, done.err)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=2)
