# SPDX-License-Identifier: GPL-3.0-or-later
"""Wrong input and a machine that fails: exit code, a message that says where and what, and
nothing half-written left behind."""

import ctypes
import os
import resource
import signal
import unittest
from fractions import Fraction

import numpy as np

import jobs
import program
import reference
import signals
import times
from campaign import START, Campaign, Recorded, Station

LOW_HZ, WIDTH_HZ, FS = 8400.0e6, 5.0e5, 1_000_000
DATA, USAGE, MACHINE = 1, 2, 3  # exit codes: data or job at fault, usage, the machine failed
_PR_CAPBSET_DROP = 24  # linux/prctl.h
_CAP_DAC_OVERRIDE, _CAP_DAC_READ_SEARCH = 1, 2  # linux/capability.h


def obey_permissions():
    """In the child: root, too, must obey the permissions of files."""
    if os.geteuid() == 0:
        for capability in (_CAP_DAC_OVERRIDE, _CAP_DAC_READ_SEARCH):
            ctypes.CDLL(None).prctl(_PR_CAPBSET_DROP, capability, 0, 0, 0)


def small_disk(n_bytes):
    """In the child: no file grows beyond n_bytes, and the attempt is an error, not a signal."""
    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (n_bytes, n_bytes))
    return limit


class Faults(program.SystemTest):
    def setUp(self):
        super().setUp()
        names = ("Alder", "Birch")
        made = Campaign(self.folder, [Station(name, (1e-5 * k, 1e-7))
                                      for k, name in enumerate(names)],
                        {"low": reference.Band(LOW_HZ, WIDTH_HZ)},
                        [reference.Scan(START, Fraction(32, 1000), names, "Ousel")],
                        n_channels=32, integration_s=Fraction(8, 1000))
        tuned = signals.Receiver(LOW_HZ, FS)
        for k, name in enumerate(names):
            x = signals.noise(np.random.default_rng(k), tuned, FS * 40 // 1000)
            made.record_vdif(name, [Recorded(tuned, x, band="low")], 2, 8000)
        self.made, self.job = made, made.job()
        self.alder = self.folder / self.job["recordings"][0]["files"][0]

    def files(self):
        return sorted(path.relative_to(self.folder) for path in self.folder.rglob("*"))

    def check_fails(self, code, *words, output="out.fits", before=None, options=()):
        """Correlate; the code, every word in the message, one line of message, and the folder as
        it was."""
        jobs.write(self.folder / "job.yaml", self.job)
        existed = self.files()
        done = program.run("correlate", self.folder / "job.yaml", "-o", self.folder / output,
                           *options, before=before)
        self.assertEqual(done.code, code, f"stderr: {done.err}")
        for word in words:
            self.assertIn(word, done.err)
        self.assertEqual(done.out, "")
        self.assertEqual(self.files(), existed, "something was left behind")
        return done

    def test_the_job_itself_is_right(self):
        jobs.write(self.folder / "job.yaml", self.job)
        self.correlate(self.folder / "job.yaml", self.folder / "out.fits")
        self.assertEqual([f.name for f in self.folder.glob("*.fits*")], ["out.fits"])

    # ----- recordings

    def test_missing_recording(self):
        self.alder.unlink()
        self.check_fails(DATA, self.alder.name)

    def test_directory_in_place_of_a_recording(self):
        self.alder.unlink()
        self.alder.mkdir()
        self.check_fails(DATA, self.alder.name, "directory")

    def test_recording_that_is_not_vdif(self):
        noise = np.random.default_rng(9).integers(0, 256, 200_000, dtype=np.uint8)
        self.alder.write_bytes(noise.tobytes())
        self.check_fails(DATA, self.alder.name)

    def test_text_that_no_format_knows(self):
        del self.job["recordings"][0]["format"]
        self.alder.write_text("not a recording\n" * 1000, encoding="ascii")
        self.check_fails(DATA, self.alder.name)

    def test_sound_where_vdif_is_promised(self):
        self.made.record_sound("Alder", [Recorded(signals.Receiver(LOW_HZ, FS), np.zeros(40000))])
        self.job["recordings"][0]["files"] = self.made.recordings[-1]["files"]
        self.job["recordings"] = self.job["recordings"][:2]
        self.check_fails(DATA, "alder_2.wav")

    def test_empty_recording(self):
        self.alder.write_bytes(b"")
        self.check_fails(DATA, self.alder.name, "empty")

    def test_header_only(self):
        self.alder.write_bytes(self.alder.read_bytes()[:32])
        self.check_fails(DATA, self.alder.name)

    def test_recording_in_a_thread_that_is_not_there(self):
        self.job["recordings"][0]["streams"][0]["thread"] = 5
        self.check_fails(DATA, "Alder", "5")

    def test_channel_that_is_not_there(self):
        self.job["recordings"][0]["streams"][0]["channel"] = 2
        self.check_fails(DATA, "Alder", "channel")

    def test_sample_rate_that_no_frame_fits(self):
        self.job["recordings"][0]["sample_rate_hz"] = FS + 1
        self.check_fails(DATA, "sample")

    def test_bits_that_are_not_handled(self):
        """3 bits fit a word in one channel only; the header's word 3 says so, whatever stands in
        the payload."""
        data = bytearray(self.alder.read_bytes())
        frame_bytes = 8 * int.from_bytes(data[8:11], "little")
        for place in range(0, len(data), frame_bytes):
            data[place + 11] = 1  # log2 of the channels
            data[place + 15] = (3 - 1) << 2
        self.alder.write_bytes(data)
        self.check_fails(DATA, self.alder.name, "3 bits", "2 channels")

    def test_stations_whose_recordings_do_not_overlap(self):
        """Birch recorded an hour later: there is no baseline to correlate."""
        made = Campaign(self.folder, self.made.stations, self.made.bands, self.made.scans,
                        n_channels=32, integration_s=Fraction(8, 1000))
        tuned = signals.Receiver(LOW_HZ, FS)
        x = signals.noise(np.random.default_rng(1), tuned, FS * 40 // 1000)
        made.record_vdif("Birch", [Recorded(tuned, x, band="low")], 2, 8000, start=START + 3600)
        self.job["recordings"][1] = made.recordings[0]
        self.check_fails(DATA, "Birch")

    def test_scan_that_misses_every_recording_by_little(self):
        """Near enough that a clock might be to blame, and yet no sample falls into the scan."""
        start = times.text(START + Fraction(1, 2))
        self.job["scans"][0]["start"] = start
        self.check_fails(DATA, "no sample", "S01", start[:21])

    # ----- the job

    def test_missing_job(self):
        done = program.run("correlate", self.folder / "none.yaml", "-o", self.folder / "o.fits")
        self.assertEqual(done.code, DATA)
        self.assertIn("none.yaml", done.err)

    def test_unknown_key(self):
        self.job["correlation"]["chanels"] = self.job["correlation"].pop("channels")
        done = self.check_fails(DATA, "job.yaml:", "chanels")
        self.assertRegex(done.err, r"\bchannels\b")

    def test_unknown_unit_in_a_key(self):
        band = self.job["bands"][0]
        band["bandwidth_mhz"] = band.pop("bandwidth_hz") / 1e6
        self.check_fails(DATA, "job.yaml:", "bandwidth_mhz", "bandwidth_hz")

    def test_negative_bandwidth(self):
        self.job["bands"][0]["bandwidth_hz"] = -WIDTH_HZ
        self.check_fails(DATA, "job.yaml:", "bandwidth_hz", "-500000")

    def test_bandwidth_in_megahertz(self):
        self.job["bands"][0]["bandwidth_hz"] = 0.5
        self.check_fails(DATA, "0.5")

    def test_band_recorded_in_part_is_told(self):
        """2 of the 32 channels (with that of half the sample rate), and of another station nothing
        at all: not forbidden, but a slip in a frequency looks just like that."""
        self.job["bands"][0]["bandwidth_hz"] = 16.0e6
        self.job["recordings"][1]["streams"][0] = {"edge_hz": LOW_HZ + 16.0e6, "sideband": "upper",
                                                   "polarization": "R"}
        jobs.write(self.folder / "job.yaml", self.job)
        done = self.correlate(self.folder / "job.yaml", self.folder / "out.fits")
        for words in (("Alder", "2 of the 32", "low"), ("Birch", "0 of the 32", "low")):
            lines = [line for line in done.err.splitlines() if words[0] in line]
            self.assertEqual(len(lines), 1, done.err)
            for word in words:
                self.assertIn(word, lines[0])

    def test_band_that_nobody_recorded(self):
        self.job["bands"].append({"name": "high", "edge_hz": 8500.0e6, "bandwidth_hz": WIDTH_HZ,
                                  "sideband": "upper"})
        self.check_fails(DATA, "high")

    def test_bands_on_two_grids_out_of_one_stream(self):
        """The second begins 10.4 channels above the first."""
        edges = LOW_HZ, LOW_HZ + 10.4 * WIDTH_HZ / 32
        self.job["bands"] = [{"name": name, "edge_hz": edge, "bandwidth_hz": WIDTH_HZ / 2,
                              "sideband": "upper"} for name, edge in zip(("low", "high"), edges)]
        self.job["correlation"]["channels"] = 16
        for recording in self.job["recordings"]:
            recording["streams"] = [{"edge_hz": LOW_HZ, "sideband": "upper", "polarization": "R"}]
        self.check_fails(DATA, "Alder", "6250 Hz")

    def test_no_scans(self):
        self.job["scans"] = []
        self.check_fails(DATA, "job.yaml", "scan")

    def test_no_scans_key(self):
        del self.job["scans"]
        self.check_fails(DATA, "job.yaml", "scan")

    def test_scans_that_overlap(self):
        self.job["scans"].append({**self.job["scans"][0], "name": "S02"})
        self.check_fails(DATA, "job.yaml:", "S01", "S02")

    def test_scan_of_no_length(self):
        for seconds in (0.0, -1.0, 1.0e-6):
            self.job["scans"][0]["duration_s"] = seconds
            self.check_fails(DATA, "job.yaml:", "duration_s")

    def test_scan_of_an_unknown_station(self):
        self.job["scans"][0]["stations"] = ["Alder", "Birhc"]
        self.check_fails(DATA, "job.yaml:", "Birhc", "Birch")

    def test_station_without_recording(self):
        del self.job["recordings"][1]
        self.check_fails(DATA, "Birch")

    def test_delay_table_that_ends_too_early(self):
        table = self.folder / "birch_delay.txt"
        lines = table.read_text(encoding="ascii").splitlines()
        table.write_text("\n".join(lines[:6]) + "\n", encoding="ascii")
        self.check_fails(DATA, "birch_delay.txt")

    def test_delay_table_with_a_broken_line(self):
        table = self.folder / "birch_delay.txt"
        lines = table.read_text(encoding="ascii").splitlines()
        lines[4] = lines[4].replace("e-", "x-")
        table.write_text("\n".join(lines) + "\n", encoding="ascii")
        self.check_fails(DATA, "birch_delay.txt", "line 5")

    def test_earth_orientation_that_does_not_reach(self):
        for day in self.job["earth_orientation"]["days"]:
            day["date"] = day["date"].replace("2026", "2024").replace("02-29", "02-28")
        self.job["earth_orientation"]["days"] = self.job["earth_orientation"]["days"][2:]
        self.job["earth_orientation"]["days"] += [
            {**self.job["earth_orientation"]["days"][-1], "date": "2024-03-05"}]
        self.check_fails(DATA)

    # ----- the machine

    def test_output_folder_that_is_not_there(self):
        self.check_fails(DATA, "nowhere", output="nowhere/out.fits")

    def test_output_folder_that_is_not_writable(self):
        closed = self.folder / "closed"
        closed.mkdir(mode=0o555)
        self.check_fails(MACHINE, "closed", output="closed/out.fits", before=obey_permissions)

    def test_recording_that_may_not_be_read(self):
        self.alder.chmod(0)
        self.check_fails(MACHINE, self.alder.name, before=obey_permissions)
        self.alder.chmod(0o600)

    def test_full_disk(self):
        for n_bytes in (0, 1000, 3000, 20_000):
            with self.subTest(n_bytes=n_bytes):
                done = self.check_fails(MACHINE, "out.fits", before=small_disk(n_bytes))
                self.assertLessEqual(done.err.count("Error writing"), 1, "said again and again")

    def test_old_output_stays_when_the_disk_is_full(self):
        (self.folder / "out.fits").write_text("an earlier result", encoding="ascii")
        self.check_fails(MACHINE, "out.fits", before=small_disk(3000))
        self.assertEqual((self.folder / "out.fits").read_text(encoding="ascii"),
                         "an earlier result")

    # ----- usage

    def test_usage(self):
        job = self.folder / "job.yaml"
        jobs.write(job, self.job)
        for arguments in ((), ("correlat", job), ("correlate",), ("correlate", job),
                          ("correlate", job, "-o"), ("correlate", job, "--treads", "2"),
                          ("correlate", job, "-o", self.folder / "o", "--threads", "many"),
                          ("correlate", job, job, "-o", self.folder / "o")):
            with self.subTest(arguments=arguments):
                existed = self.files()
                done = program.run(*arguments)
                self.assertEqual(done.code, USAGE, done.err)
                self.assertNotEqual(done.err, "")
                self.assertEqual(self.files(), existed)

    def test_unknown_scan(self):
        self.check_fails(DATA, "S99", options=("--scan", "S99"))


class RealDisk(Faults):
    """The disk that is full is a real one, where the test may mount one."""

    def setUp(self):
        super().setUp()
        self.disk = self.folder / "disk"
        self.disk.mkdir()
        if os.geteuid() != 0 or program.mount_small(self.disk, 16_384) != 0:
            self.skipTest("a file system can be mounted by root only")

    def tearDown(self):
        program.unmount(self.disk)
        super().tearDown()

    def test_full_file_system(self):
        self.check_fails(MACHINE, "out.fits", output="disk/out.fits")


def load_tests(loader, _tests, _pattern):
    suite = unittest.TestSuite(loader.loadTestsFromTestCase(Faults))
    suite.addTest(RealDisk("test_full_file_system"))
    return suite


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
