# SPDX-License-Identifier: GPL-3.0-or-later
"""Sound files as they really arrive: cut off, with a length that was never filled in, samples that
are no numbers, parts that lack their end. Integrations without a fault are the same bytes, weights
are the valid fraction, and the report names fault, count and time."""

import json
import unittest
from fractions import Fraction

import numpy as np

import idi_files
import jobs
import program
import reference
import signals
import times
import wav_bytes
from campaign import START, Campaign, Recorded, Station

RATE_HZ = 48000
LOW_HZ, WIDTH_HZ = 1420.4e6, 2.4e4
CHANNELS = 24  # a segment has 48 samples, 1 ms
INTEGRATION = Fraction(1, 10)
N_INTEGRATIONS = 10
N = RATE_HZ * 12 // 10  # samples; the scan begins with the file
HEADER = 44  # bytes before the samples of wav_bytes.wav
SEGMENT = 1e-3


class SoundFaults(program.SystemTest):
    def setUp(self):
        super().setUp()
        names = ("Alder", "Birch")
        made = Campaign(self.folder, [Station(name, (0.0, 0.0)) for name in names],
                        {"low": reference.Band(LOW_HZ, WIDTH_HZ)},
                        [reference.Scan(START, N_INTEGRATIONS * INTEGRATION, names, "Ousel")],
                        n_channels=CHANNELS, integration_s=INTEGRATION)
        tuned = signals.Receiver(LOW_HZ, RATE_HZ)
        for k, name in enumerate(names):
            x = signals.noise(np.random.default_rng(k), tuned, N)
            made.record_sound(name, [Recorded(tuned, x, band="low")], start=START)
            if name == "Alder":
                self.x = x
        self.job = made.job()
        self.alder = self.folder / self.job["recordings"][0]["files"][0]
        self.integers = np.round(self.x * 3000).astype("<i2")[:, None]
        self.floats = (self.x / 8).astype("<f4")[:, None]

    def run_job(self, data, *options):
        self.alder.write_bytes(data)
        jobs.write(self.folder / "job.yaml", self.job)
        done = self.correlate(self.folder / "job.yaml", self.folder / "out.fits", "--json",
                              *options)
        report = json.loads(done.out)
        faults = {f["kind"]: f for f in report["faults"] if f["station"] == "Alder"}
        return report["streams"][0], faults, idi_files.read(self.folder / "out.fits"), done.err

    def check_file(self, got, clean, share):
        rows, want = got.rows("Alder", "Birch"), clean.rows("Alder", "Birch")
        index = [round((got.middle[r] - START - INTEGRATION / 2) / INTEGRATION) for r in rows]
        self.assertEqual(index, [k for k in range(N_INTEGRATIONS) if share[k] > 0])
        for row, k in zip(rows, index):
            self.check_near(f"weight {k}", got.weight[row], share[k],
                            SEGMENT / float(INTEGRATION) + 1e-6)
            if share[k] == 1.0:
                self.assertEqual(got.visibility[row].tobytes(),
                                 clean.visibility[want[k]].tobytes(), str(k))

    def test_lengths_that_were_never_filled_in(self):
        _, faults, clean, err = self.run_job(wav_bytes.wav(self.integers, RATE_HZ))
        self.assertEqual((faults, err), ({}, ""))
        cases = {"nothing": wav_bytes.wav(self.integers, RATE_HZ, stated=0),
                 "all ones": wav_bytes.wav(self.integers, RATE_HZ, stated=wav_bytes.OPEN),
                 "the largest": wav_bytes.wav(self.integers, RATE_HZ, stated=0x7FFFFFFF - 36),
                 "RF64, nothing": wav_bytes.rf64(self.integers, RATE_HZ, stated=0)}
        for name, data in cases.items():
            with self.subTest(name):
                stream, faults, got, err = self.run_job(data)
                self.check_file(got, clean, np.ones(N_INTEGRATIONS))
                self.assertEqual(faults, {})
                self.assertEqual(stream["valid_fraction"], 1.0)
                self.assertIn("never filled in", err)

    def test_cut_off(self):
        _, _, clean, _ = self.run_job(wav_bytes.wav(self.integers, RATE_HZ))
        n = RATE_HZ * 65 // 100  # samples left, and one byte
        for form in (wav_bytes.wav, wav_bytes.rf64):
            data = form(self.integers, RATE_HZ)
            header = len(data) - 2 * N
            with self.subTest(form.__name__):
                stream, faults, got, err = self.run_job(data[:header + 2 * n + 1])
                share = np.ones(N_INTEGRATIONS)
                share[6:] = 0.5, 0, 0, 0
                self.check_file(got, clean, share)
                self.check_near("not recorded", stream["not_recorded_fraction"], 0.35, 1e-9)
                self.assertEqual(set(faults), {"truncated"})
                cut = faults["truncated"]
                self.assertEqual(cut["lost_samples"], N - n)
                self.assertEqual(cut["bytes"], 2 * (N - n) - 1)
                self.assertEqual(cut["first"]["offset_bytes"], header + 2 * n)
                self.assertEqual(cut["first"]["station_clock_utc"],
                                 times.text(START).partition(".")[0] + ".650000")
                self.assertIn("cut off", err)

    def test_what_follows_the_samples(self):
        """A header that was written before the end: told, not read. Other chunks are none."""
        half = 2 * (N // 2)
        _, _, clean, _ = self.run_job(wav_bytes.wav(self.integers, RATE_HZ))
        _, faults, _, err = self.run_job(wav_bytes.wav(self.integers, RATE_HZ, stated=half))
        self.assertEqual(faults["garbage"]["bytes"], 2 * N - half)
        self.assertEqual(faults["garbage"]["first"]["offset_bytes"], HEADER + half)
        self.assertIn("no chunk of a sound file", err)
        tail = b"LIST\x04\x00\x00\x00INFO"
        _, faults, got, err = self.run_job(wav_bytes.wav(self.integers, RATE_HZ, tail=tail))
        self.assertEqual((faults, err), ({}, ""))
        self.check_file(got, clean, np.ones(N_INTEGRATIONS))

    def test_floats_that_are_no_numbers(self):
        _, _, clean, _ = self.run_job(wav_bytes.wav(self.floats, RATE_HZ))
        bad = self.floats.copy()
        places = {4810: np.nan, 9650: np.inf, 9651: -np.inf, 9652: np.nan}  # integrations 1, 2
        for place, value in places.items():
            bad[place] = value
        stream, faults, got, _ = self.run_job(wav_bytes.wav(bad, RATE_HZ))
        share = np.ones(N_INTEGRATIONS)
        share[1] -= 1 / 4800
        share[2] -= 3 / 4800
        self.check_file(got, clean, share)
        self.assertEqual(set(faults), {"non_finite"})
        self.assertEqual(faults["non_finite"]["lost_samples"], 4)
        self.assertEqual(faults["non_finite"]["places"], 2)
        self.assertEqual(faults["non_finite"]["first"]["offset_bytes"], HEADER + 4 * 4810)
        self.check_near("lost", stream["lost_fraction"]["non_finite"],
                        4 / (N_INTEGRATIONS * 4800), 1e-9)

    def test_a_first_part_that_was_cut_off(self):
        """Two files of one recording that state no time: the second begins where the first would
        have ended, not where its bytes end."""
        _, _, clean, _ = self.run_job(wav_bytes.wav(self.integers, RATE_HZ))
        n, lost = RATE_HZ // 2, RATE_HZ // 20
        first = wav_bytes.wav(self.integers[:n], RATE_HZ)
        (self.folder / "second.wav").write_bytes(wav_bytes.wav(self.integers[n:], RATE_HZ))
        self.job["recordings"][0]["files"].append("second.wav")
        stream, faults, got, _ = self.run_job(first[:-2 * lost])
        share = np.ones(N_INTEGRATIONS)
        share[4] = 0.5
        self.check_file(got, clean, share)
        self.assertEqual(faults["truncated"]["lost_samples"], lost)
        self.check_near("lost", stream["lost_fraction"]["truncated"], 0.05, 1e-9)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
