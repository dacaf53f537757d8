# SPDX-License-Identifier: GPL-3.0-or-later
"""whitefringe search: clocks that the job does not know, in samples made by numpy."""

import json
import unittest
from fractions import Fraction

import numpy as np

import program
import reference
import signals
from campaign import START, Campaign, Recorded, Station

FS = 1_000_000
LOW_HZ, HIGH_HZ, WIDTH_HZ = 8400.0e6, 8402.0e6, 5.0e5
EARLY = START - Fraction(8, 1000)
SCAN_S, RECORDED_S = Fraction(1, 2), Fraction(520, 1000)
DENSITY = 0.15
SIGMAS = 5.5  # of one normal number, two-sided: 4e-8
MIDDLE_S = 0.25
# Clocks as they are; the job believes that all of them are right.
STATIONS = [Station("Alder", (1.823469e-3, 0.9e-6, 3.0e-8)),
            Station("Birch", (-1.700213e-3, -0.7e-6, -2.0e-8), 91.7e-6, 0.8e-10),
            Station("Cedar", (0.400213e-3, -0.1e-6), -97.3e-6, -0.9e-10),
            Station("Damson", (-0.3e-3, 0.3e-6), 43.21e-6)]
# Thompson, Moran, Swenson 2017, 3rd ed., section 8.3 (two bits) and 9.3.
EFFICIENCY = 0.8825
SNR = EFFICIENCY * DENSITY * np.sqrt(2 * 2 * WIDTH_HZ * float(SCAN_S))


def search(job, *options):
    done = program.run("search", job, "--json", *options)
    return done, json.loads(done.out) if done.out else None


class Search(program.SystemTest):
    waves = None

    def campaign(self, stations, polarizations=None, swapped=()):
        """Two bands; polarizations of independent waves, exchanged in `swapped` stations."""
        names = tuple(s.name for s in stations)
        bands = {"low": reference.Band(LOW_HZ, WIDTH_HZ), "high": reference.Band(HIGH_HZ, WIDTH_HZ)}
        made = Campaign(self.folder, list(stations), bands,
                        [reference.Scan(START, SCAN_S, names, "Ousel")], n_channels=50,
                        integration_s=Fraction(1, 8), rotation="planned")
        polarizations = polarizations or "R"
        if Search.waves is None:
            generator = np.random.default_rng(1)
            Search.waves = {(p, name): signals.Wave(generator, edge + WIDTH_HZ / 2, WIDTH_HZ, EARLY,
                                                    RECORDED_S)
                            for p in "RL" for name, edge in (("low", LOW_HZ), ("high", HIGH_HZ))}
        for k, station in enumerate(stations):
            streams = []
            for name, edge in (("low", LOW_HZ), ("high", HIGH_HZ)):
                for p in polarizations:
                    heard = p if station.name not in swapped else "RL"["LR".index(p)]
                    tuned = signals.Receiver(edge, FS)
                    x = made.hear(np.random.default_rng([k, len(streams)]), station, tuned,
                                  [Search.waves[heard, name]], DENSITY, EARLY, RECORDED_S)
                    streams.append(Recorded(tuned, x, p, thread=len(streams), band=name))
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY)
        return made

    def job(self, made):
        """The job that knows nothing of the clocks."""
        kept = [(s.ahead_s, s.clock_rate) for s in made.stations]
        for station in made.stations:
            station.ahead_s = station.clock_rate = 0.0
        path = made.write()
        for station, (ahead_s, rate) in zip(made.stations, kept):
            station.ahead_s, station.clock_rate = ahead_s, rate
        return path

    def test_clocks_are_found(self):
        job = self.job(self.campaign(STATIONS))
        done, got = search(job, "--reference", "Alder")
        self.assertEqual(done.code, 0, done.err)
        self.assertTrue(got["all_found"])
        for station, found in zip(STATIONS, got["stations"]):
            self.assertEqual(found["station"], station.name)
            true_s = station.ahead_s + MIDDLE_S * station.clock_rate
            self.check_near(f"{station.name}: clock", found["clock"]["ahead_s"], true_s,
                            SIGMAS * found["correction_error_s"] + 1e-15, "s")
            self.check_near(f"{station.name}: rate", found["clock"]["rate_s_per_s"],
                            station.clock_rate,
                            SIGMAS * found["correction_error_s_per_s"] + 1e-20, "s/s")
        spread_hz = np.sqrt(((HIGH_HZ - LOW_HZ) / 2)**2 + WIDTH_HZ**2 / 12)
        for baseline in got["baselines"]:
            self.assertTrue(baseline["found"])
            # The rates shift the stations' bands by up to 13 of 500 kHz against each other, and
            # windows of 100 samples miss one another by up to one; a fit has scatter 1.
            self.check_near("snr", baseline["snr"], SNR * (1 - 0.5 * (0.027 + 0.01)),
                            0.5 * (0.027 + 0.01) * SNR + SIGMAS)
            self.check_near("delay error", baseline["delay_error_s"],
                            1 / (2 * np.pi * baseline["snr"] * spread_hz), 2e-3 * 1e-9, "s")

    def test_station_that_hears_nothing_is_named(self):
        deaf = Station("Elder", (0.1e-3, 0.2e-6))
        made = self.campaign(STATIONS[:2])
        generator = np.random.default_rng(8)
        tuned = signals.Receiver(LOW_HZ, FS)
        noise = signals.noise(generator, tuned, int(FS * RECORDED_S))
        made.stations.append(deaf)
        made.scans[0] = reference.Scan(START, SCAN_S, ("Alder", "Birch", "Elder"), "Ousel")
        made.record_vdif("Elder", [Recorded(tuned, noise, band="low")], 2, 8000, start=EARLY)
        done, got = search(self.job(made))
        self.assertEqual(done.code, 1)
        self.assertIn("Elder", done.err)
        self.assertEqual([s["found"] for s in got["stations"]], [True, True, False])
        self.assertFalse(got["all_found"])

    def test_swapped_polarizations_are_found_and_named(self):
        job = self.job(self.campaign(STATIONS[:3], "RL", swapped=("Birch",)))
        done, got = search(job)
        self.assertEqual(done.code, 0, done.err)
        self.assertIn("swapped", got["stations"][1]["verdict"])
        self.assertNotIn("swapped", got["stations"][0]["verdict"] + got["stations"][2]["verdict"])

    def test_clocks_are_written_into_the_job(self):
        job = self.job(self.campaign(STATIONS[:2]))
        before = job.read_text()
        job.write_text("# kept\n" + before)
        done, got = search(job, "--apply")
        self.assertEqual(done.code, 0, done.err)
        self.assertEqual((self.folder / "job.yaml.1").read_text(), "# kept\n" + before)
        self.assertTrue(job.read_text().startswith("# kept\n"))
        done, again = search(job)
        moved = next(s for s in again["stations"] if s["station"] != again["reference"])
        self.check_near("left", moved["correction_s"], 0, SIGMAS * moved["correction_error_s"])
        was = next(s for s in got["stations"] if s["station"] == moved["station"])
        self.assertGreater(abs(was["correction_s"]), 90e-6)

    def test_wide_window_goes_step_by_step(self):
        """A clock 20 ms off, where one correlation spans some 15 ms."""
        far = Station("Birch", (-1.700213e-3, -0.7e-6, -2.0e-8), 20.0e-3)
        job = self.job(self.campaign([STATIONS[0], far]))
        done, got = search(job, "--reference", "Alder", "--window-delay", "0.03")
        self.assertEqual(done.code, 0, done.err)
        found = got["stations"][1]
        self.check_near("clock", found["clock"]["ahead_s"], far.ahead_s,
                        SIGMAS * found["correction_error_s"], "s")

    def test_wrong_words_are_refused(self):
        job = self.job(self.campaign(STATIONS[:2]))
        for options, code, words in ((("--scan", "S9"), 1, "S01"), (("--reference", "Oak"), 1, "Oak"),
                                     (("--window-delay", "2"), 2, "1 s"),
                                     (("--window-delay", "-1"), 2, "positive")):
            done = program.run("search", job, *options)
            self.assertEqual(done.code, code, done.err)
            self.assertIn(words, done.err)
            self.assertEqual(done.out, "")


if __name__ == "__main__":
    unittest.main()
