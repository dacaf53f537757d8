# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: verbs, options, help, exit codes, and how a run is stopped."""

import csv
import fcntl
import io
import json
import math
import os
import pty
import re
import signal
import struct
import subprocess
import termios
import time
import unittest

import numpy as np

import jobs
import program
import sound_files
from campaign import POSITIONS_M, SOURCE, START

VERBS = ("correlate", "delays", "inspect", "report", "simulate", "throughput")
SPEED_OF_LIGHT_M_PER_S = 299792458.0  # exact by definition of the metre


def job(folder, stations=("Alder", "Birch"), duration_s=4.0, **changes):
    """A job of stations on the model, without recordings."""
    path = folder / "job.yaml"
    content = {
        "campaign": "Forest-7",
        "stations": [{"name": name, "position_itrf_m": POSITIONS_M[name],
                      "clock": {"reference": "2026-03-01T12:00:00", "ahead_s": 1.5e-6,
                                "rate_s_per_s": 2.0e-12}} for name in stations],
        "sources": [{"name": "Ousel", **SOURCE}],
        "scans": [{"name": "S01", "source": "Ousel", "start": "2026-03-01T12:00:00",
                   "duration_s": duration_s},
                  {"name": "S02", "source": "Ousel", "start": "2026-03-01T12:10:00",
                   "duration_s": duration_s, "stations": list(stations[:2])}],
        "bands": [{"name": "low", "edge_hz": 8.4e9, "bandwidth_hz": 5e5, "sideband": "upper"}],
        "recordings": [{"station": name, "files": [f"{name}.wav"], "sampling": "real",
                        "sample_rate_hz": 1000000, "start": "2026-03-01T11:59:59",
                        "streams": [{"band": "low", "polarization": "R"}]} for name in stations],
        "correlation": {"channels": 32, "integration_s": 0.064},
        "earth_orientation": jobs.earth_orientation_days(START), **changes}
    jobs.write(path, content)
    return path


class CommandLine(program.SystemTest):
    def usage_error(self, text, *arguments):
        done = program.run(*arguments)
        self.assertEqual(done.code, 2, f"{arguments}: {done.err}")
        self.assertEqual(done.out, "")
        self.assertTrue(done.err.startswith("whitefringe: "))
        self.assertIn(text, done.err)
        self.assertIn("--help", done.err)

    def test_help_lists_every_verb(self):
        for word in ("--help", "-h"):
            done = program.run(word)
            self.assertEqual((done.code, done.err), (0, ""))
            for verb in VERBS:
                self.assertIn(f"\n  {verb} ", done.out)

    def test_help_of_every_verb_lists_its_options(self):
        options = {"correlate": ("--output", "--scan", "--threads", "--json"),
                   "delays": ("--scan", "--station", "--at", "--step", "--json", "--csv"),
                   "inspect": ("--all", "--sample-rate", "--sampling", "--tone-spacing", "--plot",
                               "--json"),
                   "report": ("--output", "--json"),
                   "simulate": ("--output", "--threads", "--json"),
                   "throughput": ("--stations", "--rate", "--scan", "--threads", "--json")}
        for verb in VERBS:
            done = program.run(verb, "--help")
            self.assertEqual((done.code, done.err), (0, ""))
            self.assertIn(f"usage: whitefringe {verb} ", done.out)
            for option in options[verb]:
                self.assertIn(option, done.out)
            self.assertLessEqual(max(map(len, done.out.splitlines())), 100)

    def test_version(self):
        done = program.run("--version")
        self.assertEqual((done.code, done.err), (0, ""))
        self.assertRegex(done.out, r"^whitefringe \d+\.\d+\.\d+\n$")

    def test_full_disk_on_stdout_is_the_machines_fault(self):
        with open("/dev/full", "w", encoding="ascii") as full:
            done = subprocess.run([os.environ["WF_PROGRAM"], "--version"], stdout=full,
                                  stderr=subprocess.PIPE, check=False)
        self.assertEqual(done.returncode, 3)
        self.assertIn(b"standard output", done.stderr)

    def test_unknown_words_get_the_nearest_known_one(self):
        self.usage_error("which verb?")
        self.usage_error("no verb corelate; did you mean correlate?", "corelate")
        self.usage_error("no verb xyzzy\n", "xyzzy")
        self.usage_error("no option --thread; did you mean --threads?", "correlate", "a", "--thread",
                         "2")
        self.usage_error("no option --stations; did you mean --station?", "delays",
                         "--stations=Alder")
        self.usage_error("no option -x", "delays", "-x")
        self.usage_error("no option --zzzzzz\n", "delays", "--zzzzzz=1")

    def test_values_are_checked(self):
        self.usage_error("which JOB.yaml?", "delays")
        self.usage_error("--output OUT.fits is needed", "correlate", "a")
        self.usage_error("--output needs a value", "correlate", "a", "-o")
        self.usage_error("not empty", "correlate", "a", "-o", "")
        self.usage_error("one too many", "correlate", "a", "b", "-o", "c")
        self.usage_error("given twice", "correlate", "a", "-oc", "--output=d")
        self.usage_error("takes no value", "delays", "a", "--json=1")
        self.usage_error("from 1, not \"0\"", "correlate", "a", "-oc", "--threads", "0")
        self.usage_error("from 1, not \"2.5\"", "correlate", "a", "-oc", "--threads=2.5")
        self.usage_error("from 1, not \"9999999999\"", "correlate", "a", "-oc",
                         "--threads=9999999999")
        self.usage_error("positive number of seconds", "delays", "a", "--step", "-1")
        self.usage_error("positive number of seconds", "delays", "a", "--step", "nan")
        self.usage_error("a UTC time such as", "delays", "a", "--at", "noon")
        self.usage_error("do not go together", "delays", "a", "--at", "2026-03-01T12:00:00",
                         "--step", "1")
        self.usage_error("do not go together", "delays", "a", "--json", "--csv")

    def test_after_two_dashes_all_are_names(self):
        done = program.run("delays", "--", "--json")
        self.assertEqual(done.code, 1)
        self.assertIn("--json", done.err)

    def test_files_that_are_not_there(self):
        for verb, *rest in (("delays",), ("correlate", "-o", self.folder / "o.fits"),
                            ("report", "-o", self.folder / "o"),
                            ("simulate", "-o", self.folder / "o")):
            done = program.run(verb, self.folder / "missing", *rest)
            self.assertEqual(done.code, 1, done.err)
            self.assertIn(str(self.folder / "missing"), done.err)
            done = program.run(verb, self.folder, *rest)
            self.assertIn(done.code, (1, 3), done.err)
            self.assertIn(str(self.folder), done.err)
        self.assertEqual(os.listdir(self.folder), [])

    def test_outputs_that_cannot_be_written(self):
        path = job(self.folder)
        write_silence(self.folder, 6)
        (self.folder / "file").write_text("kept")
        for output, code in ((self.folder / "file" / "o.fits", (1, 3)),
                             ("/proc/o.fits", (1, 3)), (self.folder, (3,)),
                             (self.folder / "not" / "o.fits", (1,))):
            done = program.run("correlate", path, "-o", output)
            self.assertIn(done.code, code, done.err)
            self.assertIn(str(output), done.err)
        self.assertEqual((self.folder / "file").read_text(), "kept")


class Delays(program.SystemTest):
    def test_json_csv_and_text_agree(self):
        path = job(self.folder)
        done = program.run("delays", path, "--json", "--step", "1")
        self.assertEqual(done.code, 0)
        rows = json.loads(done.out)["delays"]
        self.assertEqual([(r["scan"], r["time_utc"][14:19], r["station"]) for r in rows],
                         [(s, f"{m}:0{k}", name) for s, m in (("S01", "00"), ("S02", "10"))
                          for k in range(5) for name in ("Alder", "Birch")])
        table = list(csv.DictReader(io.StringIO(
            program.run("delays", path, "--csv", "--step", "1").out)))
        self.assertEqual(len(table), len(rows))
        for line, row in zip(table, rows):
            self.assertEqual(list(line), list(row))
            for key, value in row.items():
                self.assertEqual(line[key], value) if isinstance(value, str) else \
                    self.assertEqual(float(line[key]), value)
        text = program.run("delays", path, "--step", "1").out
        for row in rows[:2]:
            self.assertIn(f"{1e6 * row['total_s']:.9f}", text)
            self.assertIn(f"{row['u_m']:.3f}", text)

    def test_terms_add_up_and_rate_is_the_derivative(self):
        """The difference over 2 s of a delay with rates below 2e-6 and accelerations of
        omega^2 R/c = 1.1e-10 s/s^2 misses the rate by 2^2/24 * omega^3 R/c = 1.4e-15; delays of
        20 ms have a spacing of 3.5e-18 s."""
        rows = json.loads(program.run("delays", job(self.folder), "--json", "--step", "1",
                                      "--station", "Birch", "--scan", "S01").out)["delays"]
        for row in rows:
            whole = ("total_s", "delay_s", "clock_ahead_s", "rate_s_per_s")
            parts = math.fsum(row[key] for key in row if key.endswith("_s") and key not in whole)
            self.check_near("delay", row["delay_s"], parts, 1e-17, "s")
            self.check_near("total", row["total_s"], row["delay_s"] + row["clock_ahead_s"], 1e-17)
            self.check_near("clock", row["clock_ahead_s"], 1.5e-6, 1e-11, "s")
            # solid Earth tides stay below 0.5 m
            self.check_near("length", math.hypot(row["u_m"], row["v_m"], row["w_m"]),
                            math.hypot(*POSITIONS_M["Birch"]), 0.5, "m")
            # The wave front's delay is -w/c but for relativity, some 1e-4 of it.
            self.check_near("geometry", row["geometry_s"], -row["w_m"] / SPEED_OF_LIGHT_M_PER_S,
                            2e-4 * 0.0213, "s")
            self.check_near("w", row["w_m"], math.hypot(*POSITIONS_M["Birch"])
                            * math.sin(math.radians(row["elevation_deg"])), 3.4e-3 * 6.4e6, "m")
        for k in range(1, 4):
            self.check_near("rate", rows[k]["rate_s_per_s"],
                            (rows[k + 1]["total_s"] - rows[k - 1]["total_s"]) / 2, 2e-15, "s/s")

    def test_sources_below_the_limit_are_marked(self):
        """The scene's source stands some degrees under the horizon of both; a limit of its own
        lets Birch look there."""
        path = job(self.folder)
        text = path.read_text()
        path.write_text(text.replace("- name: Birch\n", "- name: Birch\n    elevation_limit_deg: -5\n"))
        self.assertNotEqual(path.read_text(), text)
        done = program.run("delays", path, "--json", "--scan", "S01")
        rows = json.loads(done.out)["delays"]
        for row in rows:
            self.assertLess(row["elevation_deg"], 0)
            self.assertEqual(row["below_limit"], row["station"] == "Alder")
        self.assertEqual(done.err.count("\n"), 1)  # once, not for each moment
        self.assertRegex(done.err, r"station Alder, scan S01: Ousel stands at an elevation of "
                                   r"-\d.\d\d deg, below its limit")
        done = program.run("delays", path, "--csv")  # nor for each scan
        self.assertEqual(done.err.count("\n"), 1)
        self.assertIn("station Alder, scan S01 (and in 1 more scan): Ousel", done.err)
        text = program.run("delays", path, "--scan", "S01").out
        self.assertEqual(text.count("below its limit"), 3)

    def test_terms_that_are_off_or_lack_data_are_named(self):
        path = job(self.folder)
        path.write_text(path.read_text() + "delay_terms: {gravity_sun: false}\n")
        done = program.run("delays", path, "--json", "--scan", "S01")
        parsed = json.loads(done.out)
        self.assertIn({"term": "station_velocity", "station": "Birch"}, parsed["without_data"])
        self.assertEqual({row["gravity_sun_s"] for row in parsed["delays"]}, {0})
        text = program.run("delays", path, "--scan", "S01").out
        self.assertIn("\noff: gravity of the Sun\n", text)
        self.assertRegex(text, r"no data, left out: plate motion[^\n]* of Alder, Birch\n")

    def test_terms_that_a_table_replaces_are_not_called_off(self):
        """Alder's delays come from a table: what is off for it alone is not off."""
        (self.folder / "alder.txt").write_text("".join(
            f"2026-03-01T{11 + k // 60}:{k % 60:02}:00 0.001\n" for k in range(100)))
        path = job(self.folder)
        path.write_text(path.read_text().replace("- name: Alder\n",
                                                 "- name: Alder\n    delay_table: alder.txt\n"))
        text = program.run("delays", path, "--scan", "S01").out
        self.assertEqual(re.findall(r"^off: .*", text, re.M), ["off: galactic aberration since 2015.0"])
        self.assertRegex(text, r"no data, left out: plate motion[^\n]* of Birch\n")
        head = text.split("\nscan S01", 1)[0]
        self.assertNotIn("\n\n", head)

    def test_default_times_are_start_middle_and_end(self):
        rows = json.loads(program.run("delays", job(self.folder), "--json", "--station", "Alder",
                                      "--scan", "S02").out)["delays"]
        self.assertEqual([r["time_utc"] for r in rows], [
            f"2026-03-01T12:10:0{k}.000000000" for k in (0, 2, 4)])

    def test_one_moment(self):
        path = job(self.folder)
        rows = json.loads(program.run("delays", path, "--json", "--at",
                                      "2026-03-01T12:00:03.125").out)["delays"]
        self.assertEqual([(r["scan"], r["time_utc"], r["station"]) for r in rows],
                         [("S01", "2026-03-01T12:00:03.125000000", n) for n in ("Alder", "Birch")])
        done = program.run("delays", path, "--at", "2026-03-01T13:00:00")
        self.assertEqual((done.code, done.out), (1, ""))
        self.assertIn("no scan", done.err)

    def test_unknown_names_get_the_nearest_known_one(self):
        path = job(self.folder, stations=("Alder", "Birch", "Cedar"))
        for option, name, text in (("--station", "Aldre", "did you mean Alder?"),
                                   ("--scan", "S03", "did you mean S0"),
                                   ("--station", "Quince", "there is no station Quince\n")):
            done = program.run("delays", path, option, name)
            self.assertEqual((done.code, done.out), (1, ""))
            self.assertIn(text, done.err)
        done = program.run("delays", path, "--station", "Cedar", "--scan", "S02")
        self.assertEqual(done.code, 1)
        self.assertIn("Cedar takes part in no scan", done.err)


def write_silence(folder, seconds, stations=("Alder", "Birch")):
    """Sound files (16 bits, 1 MHz) of nothing but zeros, that take no room on the disk."""
    n_bytes = 2 * 1000000 * seconds
    header = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + n_bytes, b"WAVE", b"fmt ", 16, 1, 1,
                         1000000, 2000000, 2, 16, b"data", n_bytes)
    for name in stations:
        with open(folder / f"{name}.wav", "wb") as file:
            file.write(header)
            file.truncate(len(header) + n_bytes)


class Stop(program.SystemTest):
    def test_signal_ends_correlate_and_leaves_nothing(self):
        path = job(self.folder, duration_s=500.0)
        write_silence(self.folder, 1200)
        before = sorted(os.listdir(self.folder))
        for number in (signal.SIGTERM, signal.SIGINT):
            process = subprocess.Popen(
                [os.environ["WF_PROGRAM"], "correlate", path, "-o", self.folder / "out.fits"],
                stderr=subprocess.PIPE, stdout=subprocess.PIPE,
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler))
            deadline = time.monotonic() + 60
            while sorted(os.listdir(self.folder)) == before:
                self.assertIsNone(process.poll(), "correlate ended by itself")
                self.assertLess(time.monotonic(), deadline, "correlate did not start")
                time.sleep(0.01)
            process.send_signal(number)
            out, errors = process.communicate(timeout=60)
            self.assertEqual(process.returncode, -number, errors)
            self.assertIn(b"stopped by signal", errors)
            self.assertEqual(out, b"")
            self.assertEqual(sorted(os.listdir(self.folder)), before)

    def test_an_ignored_signal_stays_ignored(self):
        """As under nohup: the run goes on to its end."""
        path = job(self.folder, duration_s=1.0)
        write_silence(self.folder, 900)
        process = subprocess.Popen(
            [os.environ["WF_PROGRAM"], "correlate", path, "-o", self.folder / "out.fits"],
            stderr=subprocess.PIPE, stdout=subprocess.PIPE,
            preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN))
        process.send_signal(signal.SIGHUP)
        _, errors = process.communicate(timeout=60)
        self.assertEqual(process.returncode, 0, errors)
        self.assertTrue((self.folder / "out.fits").exists())


class Progress(program.SystemTest):
    def on_terminal(self, columns):
        """What a run of some seconds draws on a terminal of so many columns."""
        # no warning of the source, which stands under the horizon, is to mix with the bar
        path = job(self.folder, duration_s=500.0, elevation_limit_deg=-90.0)
        write_silence(self.folder, 600)
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        process = subprocess.Popen([os.environ["WF_PROGRAM"], "correlate", path, "-o",
                                    self.folder / "out.fits", "--scan", "S01"],
                                   stdout=subprocess.DEVNULL, stderr=theirs)
        os.close(theirs)
        drawn = b""
        while drawn.count(b"left") < 3:
            drawn += os.read(ours, 4096)
        process.terminate()
        process.wait(timeout=60)
        try:
            while True:
                drawn += os.read(ours, 4096)
        except OSError:  # the other end is closed
            pass
        os.close(ours)
        return drawn.decode()

    def test_bar_shows_rate_and_time_left_on_a_terminal(self):
        drawn = self.on_terminal(120)
        self.assertRegex(drawn, r"correlate \[=* *\] +\d+ %  \d+ of 7813 integrations, "
                                r"[\d.e+]+ x real time, (\d+ min )?\d+ s left")
        # In the end the line is cleared before anything else is written.
        self.assertRegex(drawn, r"\x1b\[Kwhitefringe: stopped by signal 15")

    def test_bar_keeps_to_the_line(self):
        for line in self.on_terminal(90).split("\r"):
            self.assertLess(len(line.replace("\x1b[K", "").split("\n")[0]), 90)


class Warnings(program.SystemTest):
    def test_correlate_tells_of_a_source_under_the_horizon(self):
        """Once for a station, and the samples are correlated all the same."""
        path = job(self.folder, duration_s=1.0)
        write_silence(self.folder, 900)
        done = program.run("correlate", path, "-o", self.folder / "out.fits")
        told = [line for line in done.err.splitlines() if "stands at an elevation" in line]
        self.assertEqual(len(told), 2)
        for name, line in zip(("Alder", "Birch"), told):
            self.assertRegex(line, rf"station {name}, scan S01 \(and in 1 more scan\): Ousel stands "
                                   r"at an elevation of -\d\.\d\d deg, below the limit of 0; check ")
            self.assertRegex(done.out, rf"below the elevation limit, [^\n]*\n[^\n]*\n(  Alder[^\n]*\n)?"
                                       rf"  {name} +100\.0000 +0\n")
        self.assertTrue((self.folder / "out.fits").exists())
        done = program.run("correlate", path, "-o", self.folder / "out.fits", "--json")
        for stream in json.loads(done.out)["streams"]:
            self.assertEqual(stream["below_limit_fraction"], 1.0)
            self.assertEqual(stream["valid_fraction"], 1.0)


class Summary(program.SystemTest):
    def test_correlate_says_what_it_did(self):
        """A second: 15 integrations of 64 ms and one of 40 ms, of 3 baselines."""
        path = job(self.folder, duration_s=1.0)
        for name in ("Alder", "Birch"):
            sound_files.write(self.folder / f"{name}.wav",
                              [np.random.default_rng(1).standard_normal(3000000)], 1000000,
                              kind="WAV", subtype="PCM_16", full_scale_sigma=8.0)
        done = program.run("correlate", path, "-o", self.folder / "out.fits", "--json",
                           "--threads", "2", "--scan", "S01")
        self.assertEqual(done.code, 0, done.err)
        got = json.loads(done.out)
        self.assertEqual((got["integrations"], got["rows"], got["threads"]), (16, 48, 2))
        self.check_near("data", got["data_s"], 1.0, 1e-9, "s")
        self.assertEqual([s["station"] for s in got["streams"]], ["Alder", "Birch"])
        self.assertEqual([s["valid_fraction"] for s in got["streams"]], [1.0, 1.0])
        self.assertGreater(got["data_seconds_per_second"], 0)
        self.assertIn("channels", got["plan"])
        text = program.run("correlate", path, "-o", self.folder / "out.fits", "--scan",
                           "S01").out
        for part in ("plan", "Alder", "100.0000", "16 integrations, 48 rows", "fringe rotation"):
            self.assertIn(part, text)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=2)
