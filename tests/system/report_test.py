# SPDX-License-Identifier: GPL-3.0-or-later
"""whitefringe report, held against files of fringes in closed form (support/invented_idi.py)."""

import json
import os
import signal
import struct
import subprocess
import time
import unittest

import numpy as np

import program
from invented_idi import STEP_HZ, Contents, Fringe, Scan, write

PNG = b"\x89PNG\r\n\x1a\n"


def report(path, folder):
    done = program.run("report", path, "-o", folder, "--json")
    if done.code != 0:
        raise AssertionError(f"report ended with {done.code}: {done.err}")
    return json.loads(done.out)


class Numbers(program.SystemTest):
    def test_fringe_is_that_of_the_file(self):
        """Without noise; single-precision visibilities of 0.2 (1.5e-8 each): 1e-6 of the
        resolution. INTTIM has single precision, TIME 1e-12 days: the rate holds to 1e-7."""
        want = Fringe(-4.321e-7, 1.25e-11, 0.2, 0.75)
        path = self.folder / "closed.fits"
        write(path, Contents(first_hz=(8.4e9, 8.5e9), products=(-1, 2), fringes={(0, 1): want}))
        got = report(path, self.folder / "out")
        self.assertEqual([(f["band"], f["product"]) for f in got["fringes"]],
                         [(1, "RR"), (1, "LL"), (2, "RR"), (2, "LL")])
        for fringe in got["fringes"]:
            self.assertTrue(fringe["found"])
            self.assertEqual((fringe["first_station"], fringe["second_station"]),
                             ("Alder", "Birch"))
            self.check_near("delay", fringe["delay_s"], want.delay_s, 1e-6 / (64 * STEP_HZ), "s")
            self.check_near("rate", fringe["rate_s_per_s"], want.rate_s_per_s,
                            1e-6 / (8 * 8.4e9), "s/s")
            self.check_near("amplitude", fringe["amplitude"], 0.2, 1e-6)
            self.check_near("phase", fringe["phase_deg"], np.degrees(0.75), 1e-3, "deg")
            self.assertEqual(fringe["valid_fraction"], 1.0)
        self.check_near("middle", got["fringes"][0]["middle_hz"], 8.4e9 + 31.5 * STEP_HZ, 1e-3)

    def test_errors_and_snr_follow_theory(self):
        """SNR = amplitude / (sigma / sqrt(n)); its scatter is 1, and 2.3 % from the estimate of
        sigma over 1024 visibilities: 5 sigma."""
        n = 16 * 64
        sigma, amplitude = 0.05, 0.05
        path = self.folder / "noisy.fits"
        write(path, Contents(sigma=sigma, fringes={(0, 1): Fringe(3e-7, -2e-11, amplitude, -1.0)}))
        fringe = report(path, self.folder / "out")["fringes"][0]
        snr = amplitude / (sigma / np.sqrt(n))
        self.check_near("snr", fringe["snr"], snr, 5 * np.hypot(1, 0.023 * snr))
        spread_hz = STEP_HZ * np.sqrt((64**2 - 1) / 12)
        self.check_near("delay error", fringe["delay_error_s"],
                        1 / (2 * np.pi * fringe["snr"] * spread_hz), 1e-12, "s")
        self.check_near("phase error", fringe["phase_error_deg"], np.degrees(1 / fringe["snr"]),
                        1e-9, "deg")
        self.check_near("delay", fringe["delay_s"], 3e-7, 5 * fringe["delay_error_s"], "s")
        self.check_near("rate", fringe["rate_s_per_s"], -2e-11, 5 * fringe["rate_error_s_per_s"])

    def test_noise_is_no_fringe(self):
        path = self.folder / "noise.fits"
        write(path, Contents(sigma=0.1, seed=3))
        fringe = report(path, self.folder / "out")["fringes"][0]
        self.assertFalse(fringe["found"])
        self.assertGreater(fringe["false_alarm_probability"], 1e-3)

    def test_stretches_end_at_gaps_and_sources(self):
        """Scans at 0 s and 8 s touch but differ in source; then a gap; then the next day."""
        path = self.folder / "scans.fits"
        scans = (Scan(43200.0, 16, 1), Scan(43208.0, 8, 2), Scan(43220.0, 4, 2),
                 Scan(86398.0, 8, 1))
        write(path, Contents(sources=("Ousel", "Willowbrook"), scans=scans, n_channels=8))
        got = report(path, self.folder / "out")
        self.assertEqual([(s["source"], s["integrations"], s["start_utc"],
                           round(s["integration_s"], 9))
                          for s in got["stretches"]],
                         [("Ousel", 16, "2026-03-01T12:00:00.000000", 0.5),
                          ("Willowbrook", 8, "2026-03-01T12:00:08.000000", 0.5),
                          ("Willowbrook", 4, "2026-03-01T12:00:20.000000", 0.5),
                          ("Ousel", 8, "2026-03-01T23:59:58.000000", 0.5)])

    def test_nothing_but_zeros_is_drawn_and_has_no_snr(self):
        path = self.folder / "zeros.fits"
        write(path, Contents())
        got = report(path, self.folder / "out")
        self.assertIn("stretch01_Alder-Birch_spectrum.png", got["pictures"])
        self.assertNotIn("stretch01_Alder-Birch_fringe.png", got["pictures"])
        fringe = got["fringes"][0]
        self.assertEqual((fringe["amplitude"], fringe["snr"], fringe["found"]), (0, 0, False))
        self.assertIsNone(fringe["delay_error_s"])

    def test_baseline_without_weight_has_no_fringe(self):
        path = self.folder / "flagged.fits"
        write(path, Contents(stations=("Alder", "Birch", "Cedar"), sigma=0.1,
                             fringes={(0, 1): Fringe(0, 0, 1, 0),
                                      (0, 2): Fringe(0, 0, 1, 0, weight=0.0)}))
        got = report(path, self.folder / "out")
        rows = {(f["first_station"], f["second_station"]): f for f in got["fringes"]}
        self.assertTrue(rows["Alder", "Birch"]["found"])
        self.assertIsNone(rows["Alder", "Cedar"]["delay_s"])
        self.assertFalse(rows["Alder", "Cedar"]["found"])

    def test_one_channel_or_one_integration(self):
        path = self.folder / "narrow.fits"
        write(path, Contents(n_channels=1, fringes={(0, 1): Fringe(0, 3e-11, 0.5, 1.0)}))
        fringe = report(path, self.folder / "out")["fringes"][0]
        self.assertIsNone(fringe["delay_error_s"])
        self.check_near("rate", fringe["rate_s_per_s"], 3e-11, 1e-6 / (8 * 8.4e9))
        path = self.folder / "short.fits"
        write(path, Contents(scans=(Scan(43200.0, 1),),
                             fringes={(0, 1): Fringe(3e-7, 0, 0.5, 1.0)}))
        fringe = report(path, self.folder / "out")["fringes"][0]
        self.assertIsNone(fringe["rate_error_s_per_s"])
        self.check_near("delay", fringe["delay_s"], 3e-7, 1e-6 / (64 * STEP_HZ))


class Notes(program.SystemTest):
    def test_clocks_flags_and_history_reach_the_report(self):
        path = self.folder / "in.fits"
        write(path, Contents(stations=("Alder", "Birch"), sigma=0.1, flags=(2, 0, 2),
                             clocks=((43200.0, 1, 1.25e-6, 2e-12), (43200.0, 2, -3e-6, 0.0),
                                     (43300.0, 1, 1.2502e-6, 2e-12)),
                             history=("Grown in a <forest>.",)))
        got = report(path, self.folder / "out")
        alder, birch = got["stations"]
        self.assertEqual((alder["station"], alder["flags"], birch["flags"]), ("Alder", 1, 3))
        self.check_near("ahead", [c["ahead_s"] for c in alder["clocks"]], [1.25e-6, 1.2502e-6],
                        1e-18, "s")
        self.assertEqual([c["time_utc"] for c in alder["clocks"]],
                         ["2026-03-01T12:00:00.000000", "2026-03-01T12:01:40.000000"])
        self.check_near("rate", alder["clocks"][0]["rate_s_per_s"], 2e-12, 1e-24)
        self.check_near("ahead", birch["clocks"][0]["ahead_s"], -3e-6, 1e-18, "s")
        page = (self.folder / "out" / "report.html").read_text()
        self.assertIn("Grown in a &lt;forest&gt;.", page)

    def test_stations_get_a_verdict_with_its_reasons(self):
        path = self.folder / "in.fits"
        loud = Fringe(1e-7, 0, 0.2, 0)
        write(path, Contents(stations=("Alder", "Birch", "Cedar", "Damson"), sigma=0.1,
                             fringes={(0, 1): loud, (0, 2): loud, (1, 2): loud,
                                      (0, 0): Fringe(weight=0.75), (0, 3): Fringe(weight=0.5),
                                      (1, 3): Fringe(weight=0.5), (2, 3): Fringe(weight=0.5),
                                      (3, 3): Fringe(weight=0.5)}))
        alder, birch, _, damson = report(path, self.folder / "out")["stations"]
        self.assertEqual((alder["baselines"], alder["baselines_with_fringes"]), (3, 2))
        self.assertEqual((damson["baselines"], damson["baselines_with_fringes"]), (3, 0))
        self.assertEqual(damson["verdict"], "No fringe on any of 3 baselines")
        self.assertEqual(birch["verdict"], "Fringes on 2 of 3 baselines")
        self.assertIn("No fringe with Damson, which has none with anybody.", birch["doubts"])
        self.assertIn("50.0 % of the data are missing or not valid.", damson["doubts"])
        self.check_near("valid", damson["valid_fraction"], 0.5, 1e-7)
        # the best of its baselines, not its autocorrelation of 0.75
        self.check_near("valid", alder["valid_fraction"], 1.0, 1e-7)
        self.assertGreater(birch["highest_snr"], 50)


class Bands(program.SystemTest):
    """Fits over bands, stations, closures, stability: what the library finds reaches the report.
    The mathematics have their own tests."""

    DELAY_S = (0.0, 120e-9, -80e-9)
    RATE = (0.0, 4e-12, -2e-12)

    def write(self, name, **more):
        fringes = {(i, j): Fringe(self.DELAY_S[i] - self.DELAY_S[j], self.RATE[i] - self.RATE[j],
                                  0.2, 0.3 * i - 0.5 * j)
                   for i in range(3) for j in range(i + 1, 3)}
        path = self.folder / name
        setup = {"first_hz": (8.4e9, 8.403e9), "n_channels": 32, "sigma": 0.05, **more}
        write(path, Contents(stations=("Alder", "Birch", "Cedar"), fringes=fringes, **setup))
        return path

    def test_stations_are_solved_and_triangles_close(self):
        """5 sigma of the stated errors. The file's bands have equal phases at their middles: they
        do not line up at the delay within them. Phases of the triangle: 0.3 i - 0.5 j."""
        got = report(self.write("in.fits", scans=(Scan(43200.0, 64),)), self.folder / "out")
        (solution,) = got["station_solutions"]
        stations = solution["stations"]
        at = [s["station"] for s in stations].index(solution["reference_station"])
        for k, station in enumerate(stations):
            if k == at:
                self.assertEqual((station["delay_s"], station["rate_s_per_s"]), (0, 0))
                continue
            self.check_near("rate", station["rate_s_per_s"], self.RATE[k] - self.RATE[at],
                            5 * station["rate_error_s_per_s"], "s/s")
            self.assertEqual(solution["delays"], "single-band")
            self.check_near("delay", station["delay_s"], self.DELAY_S[k] - self.DELAY_S[at],
                            5 * station["delay_error_s"], "s")
        (closure,) = solution["closure_phases"]
        self.check_near("closure", closure["phase_deg"], np.degrees(-0.5 + (0.3 - 1.0) + 1.0),
                        5 * closure["phase_error_deg"], "deg")
        closure = solution["closure_delays"][0]
        self.check_near("closure", closure["delay_s"], 0, 5 * closure["delay_error_s"], "s")
        self.assertEqual(len(got["fits"]), 3)
        for fit in got["fits"]:
            i, j = (("Alder", "Birch", "Cedar").index(fit[key])
                    for key in ("first_station", "second_station"))
            self.assertTrue(fit["found"])
            self.check_near("delay", fit["single_band_delay_s"], self.DELAY_S[i] - self.DELAY_S[j],
                            5 * fit["single_band_delay_error_s"], "s")
        (stretch,) = got["stability"]  # nothing wanders
        for baseline in stretch["baselines"]:
            last = baseline["coherence"][-1]
            self.check_near("coherence", last["coherence"], 1, 5 * last["error"])
            self.assertIsNone(baseline["coherence_time_s"])
        self.assertEqual(stretch["events"], [])

    def test_closure_phases_do_not_hang_on_ambiguities(self):
        """Bands 40 MHz apart: multi-band delays are known but for multiples of 25 ns, and phases
        between the bands but for half turns."""
        path = self.write("in.fits", first_hz=(8.4e9, 8.44e9))
        (solution,) = report(path, self.folder / "out")["station_solutions"]
        self.assertTrue(solution["phases_of_all_bands"])
        (closure,) = solution["closure_phases"]
        self.check_near("closure", closure["phase_deg"], np.degrees(-0.5 + (0.3 - 1.0) + 1.0),
                        5 * closure["phase_error_deg"], "deg")

    def test_a_jump_is_told_with_its_station_and_utc(self):
        path = self.write("in.fits", scans=(Scan(43200.0, 200),), interval_s=1.0,
                          station_phase_rad=lambda i, t: 1.5 * (i == 1 and t > 80))
        got = report(path, self.folder / "out")
        (stretch,) = got["stability"]
        self.assertEqual(len(stretch["baselines"]), 3)
        (event,) = stretch["events"]
        self.assertEqual((event["station"], event["kind"]), ("Birch", "jump"))
        self.check_near("size", event["size_deg"], np.degrees(1.5), 5 * event["error_deg"], "deg")
        self.assertIn(event["time_utc"][:19],
                      [f"2026-03-01T12:01:{second}" for second in (19, 20, 21)])
        page = (self.folder / "out" / "report.html").read_text()
        self.assertRegex(page, r"<th scope=\"row\">Birch</th><td>2026-03-01 12:01:\d\d\.\d</td>"
                               r"<td>jump of")


class Files(program.SystemTest):
    def test_pictures_are_whole_and_of_the_stated_size(self):
        path = self.folder / "in.fits"
        write(path, Contents(stations=("Alder", "Birch", "Cedar"), sigma=0.1))
        got = report(path, self.folder / "out")
        pairs = ("Alder-Birch", "Alder-Cedar", "Birch-Cedar")
        want = ([f"stretch01_{pair}_{what}.png" for pair in pairs
                 for what in ("fringe", "spectrum")]
                + [f"stretch01_{name}_autocorrelation.png" for name in
                   ("Alder", "Birch", "Cedar")] + ["weights.png"])
        self.assertEqual(sorted(got["pictures"]), sorted(want))
        for name in got["pictures"]:
            data = (self.folder / "out" / name).read_bytes()
            self.assertEqual(data[:8], PNG)
            width, height = struct.unpack(">II", data[16:24])
            self.assertEqual(width, 960)
            self.assertGreater(height, 300)
            self.assertEqual(data[-8:-4], b"IEND")
        self.assertEqual(sorted(os.listdir(self.folder / "out")),
                         sorted(got["pictures"] + ["report.html", "summary.txt", "summary.json"]))
        self.assertEqual(json.loads((self.folder / "out" / "summary.json").read_text()), got)
        text = (self.folder / "out" / "summary.txt").read_text()
        self.assertIn("Alder    Cedar", text)

    def test_text_on_stdout_is_the_summary(self):
        path = self.folder / "in.fits"
        write(path, Contents(sigma=0.1))
        done = program.run("report", path, "-o", self.folder / "out")
        self.assertEqual(done.code, 0, done.err)
        self.assertEqual(done.err, "")
        self.assertTrue(done.out.startswith((self.folder / "out" / "summary.txt").read_text()))
        self.assertIn("/report.html, 5 pictures, summary.txt and summary.json", done.out)

    def test_names_are_kept_apart_and_inside_the_folder(self):
        path = self.folder / "in.fits"
        write(path, Contents(stations=("../A", ".._A", "q'{^@"), sources=("O'x_{y}^&~",),
                             sigma=0.1))
        raw = path.read_bytes().replace(b"q'{^@", b"q\xff{^@")
        path.write_bytes(raw)
        got = report(path, self.folder / "out")
        self.assertEqual(len(set(got["pictures"])), 10)
        self.assertEqual(set(got["pictures"]) | {"report.html", "summary.txt", "summary.json"},
                         set(os.listdir(self.folder / "out")))
        self.assertEqual(sorted(os.listdir(self.folder)), ["in.fits", "out"])


class Refusals(program.SystemTest):
    def setUp(self):
        super().setUp()
        self.path = self.folder / "in.fits"
        write(self.path, Contents(sigma=0.1))

    def refused(self, code, text, *arguments, **options):
        done = program.run(*arguments, **options)
        self.assertEqual(done.code, code, done.err)
        self.assertTrue(done.err.startswith("whitefringe: "), done.err)
        self.assertIn(text, done.err)
        self.assertEqual(done.out, "")

    def test_what_is_no_visibility_file(self):
        self.refused(1, "missing.fits", "report", self.folder / "missing.fits", "-o",
                     self.folder / "out")
        (self.folder / "text.fits").write_text("Alder")
        self.refused(1, "no FITS file", "report", self.folder / "text.fits", "-o",
                     self.folder / "out")
        self.assertFalse((self.folder / "out").exists())

    def test_folders_that_cannot_be_written(self):
        (self.folder / "file").write_text("kept")
        self.refused(3, "is no folder", "report", self.path, "-o", self.folder / "file")
        self.refused(3, "file/out", "report", self.path, "-o", self.folder / "file" / "out")
        self.refused(1, "create it", "report", self.path, "-o", self.folder / "not" / "there")
        self.assertEqual((self.folder / "file").read_text(), "kept")

    def run_with_path(self, path):
        return subprocess.run([os.environ["WF_PROGRAM"], "report", self.path, "-o",
                               self.folder / "out"], env={"PATH": str(path)},
                              capture_output=True, text=True, check=False, timeout=60)

    def test_missing_gnuplot_says_what_to_install(self):
        done = self.run_with_path(self.folder)
        self.assertEqual(done.returncode, 3)
        self.assertIn("apt install gnuplot", done.stderr)
        self.assertFalse((self.folder / "out").exists())

    def test_failing_gnuplot_leaves_nothing(self):
        """One that draws the check, and then no more."""
        fake = self.folder / "bin" / "gnuplot"
        fake.parent.mkdir()
        fake.write_text("#!/bin/sh\nif [ \"$2\" = check.gp ]; then echo x > check.png; exit 0; fi\n"
                        "echo 'no room for paint' >&2\nexit 1\n")
        fake.chmod(0o755)
        (self.folder / "out").mkdir()
        (self.folder / "out" / "summary.txt").write_text("old")
        done = self.run_with_path(f"{fake.parent}:/bin:/usr/bin")
        self.assertEqual(done.returncode, 3)
        self.assertIn("no room for paint", done.stderr)
        self.assertEqual(os.listdir(self.folder / "out"), ["summary.txt"])
        self.assertEqual((self.folder / "out" / "summary.txt").read_text(), "old")

    def test_signal_ends_the_process_and_leaves_nothing(self):
        """A gnuplot that sleeps holds the report; the signal ends both."""
        fake = self.folder / "bin" / "gnuplot"
        fake.parent.mkdir()
        fake.write_text("#!/bin/sh\nif [ \"$2\" = check.gp ]; then echo x > check.png; exit 0; fi\n"
                        "exec sleep 60\n")
        fake.chmod(0o755)
        for number in (signal.SIGINT, signal.SIGTERM):
            process = subprocess.Popen(
                [os.environ["WF_PROGRAM"], "report", self.path, "-o", self.folder / "out"],
                env={"PATH": f"{fake.parent}:/bin:/usr/bin"}, stderr=subprocess.PIPE,
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler))
            deadline = time.monotonic() + 30
            while not list(self.folder.glob("out/.partial-*/figure.gp")):
                self.assertLess(time.monotonic(), deadline, "the report did not start")
                time.sleep(0.02)
            process.send_signal(number)
            _, errors = process.communicate(timeout=30)
            self.assertEqual(process.returncode, -number)
            self.assertIn(b"stopped by signal", errors)
            self.assertFalse((self.folder / "out").exists())


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=2)
