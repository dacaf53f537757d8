# SPDX-License-Identifier: GPL-3.0-or-later
"""Recordings as they really arrive: every fault at a known place in an otherwise clean recording.
Integrations that it does not touch are the same bytes, weights are the valid fraction, and the
report names fault, count and time. Expected values come from where the damage was done
(support/vdif_damage.py) and from the run on the clean files."""

import json
import unittest
from fractions import Fraction

import numpy as np
from astropy.io import fits

import idi_files
import jobs
import program
import reference
import signals
import times
import vdif_damage
from campaign import START, Campaign, Recorded, Station

LOW_HZ, WIDTH_HZ, FS = 8400.0e6, 5.12e5, 1_024_000
SAMPLES = 512  # a frame; 0.5 ms
PER_SECOND = FS // SAMPLES
CHANNELS = 32  # a segment has 64 samples, eight fit a frame
INTEGRATION = Fraction(4, 1000)  # 8 frames, 64 segments
LEAD = 8  # frames before the scan
N_INTEGRATIONS = 12
N_FRAMES = LEAD + 8 * N_INTEGRATIONS + 8
SEGMENT = Fraction(1, 16000)


def cases():
    d = vdif_damage
    return {
        "a frame missing": lambda f: d.missing(f, {40}),
        "frames missing in several places": lambda f: d.missing(f, {20, 21, 22, 60, 90}),
        "frames twice": lambda f: d.twice(f, {30, 31, 70}),
        "frames twice, other samples": lambda f: d.twice_with_other_samples(f, {33, 70}),
        "neighbours swapped": lambda f: d.swapped(f, 40, 41),
        "two frames far apart swapped": lambda f: d.swapped(f, 12, 95),
        "a frame far too late": lambda f: d.moved(f, 12, 1, 100),
        "a block far too early": lambda f: d.moved(f, 70, 10, 15),
        "frames marked invalid": lambda f: d.flagged(f, {25, 26, 77}),
        "payloads of fill": lambda f: d.filled(f, {25, 50, 51}),
        "frames of fill": lambda f: d.fill_frames(f, {25, 50, 51}),
        "headers overwritten": lambda f: d.junk_headers(f, {25, 50, 51, 52}),
        "other bits in a header": lambda f: d.other_bits(f, {44}),
        "seconds wrong in a header": lambda f: d.wrong_seconds(f, {44, 80}, 1000),
        "frame number beyond the rate": lambda f: d.number_too_large(f, {44}, PER_SECOND),
        "the second goes on too late": lambda f: d.ticks_late(f, LEAD, 7),
        "the number goes back too late": lambda f: d.number_back_late(f, LEAD, 3, PER_SECOND),
        "extended words overwritten": lambda f: d.junk_extended_words(f, {25, 50, 51}),
        "a thread absent for a time": lambda f: d.absent_beside_another_thread(
            f, range(33, 61)),
        "a thread that starts late": lambda f: d.absent_beside_another_thread(
            f, range(LEAD + 21)),
        "a thread that ends early": lambda f: d.absent_beside_another_thread(
            f, range(83, N_FRAMES)),
        "garbage before the first frame": lambda f: d.garbage_before(f, 12345),
        "garbage between frames": lambda f: d.garbage_between(f, 50, 777),
        "garbage after the last frame": lambda f: d.garbage_after(f, 5000),
        "bytes lost in a frame": lambda f: d.bytes_lost(f, 50, 30),
        "the last frame cut off": lambda f: d.truncated(f, 50),
    }


class RecordingFaults(program.SystemTest):
    @classmethod
    def setUpClass(cls):
        cls.clean = None

    def setUp(self):
        super().setUp()
        names = ("Alder", "Birch")
        made = Campaign(self.folder, [Station(name, (0.0, 0.0)) for name in names],
                        {"low": reference.Band(LOW_HZ, WIDTH_HZ)},
                        [reference.Scan(START, N_INTEGRATIONS * INTEGRATION, names, "Ousel")],
                        n_channels=CHANNELS, integration_s=INTEGRATION)
        tuned = signals.Receiver(LOW_HZ, FS)
        start = START - Fraction(LEAD * SAMPLES, FS)
        for k, name in enumerate(names):
            x = signals.noise(np.random.default_rng(k), tuned, N_FRAMES * SAMPLES)
            made.record_vdif(name, [Recorded(tuned, x, band="low")], 2, SAMPLES, start=start)
        self.made, self.job = made, made.job()
        self.alder = self.folder / self.job["recordings"][0]["files"][0]
        self.frames = vdif_damage.split(self.alder.read_bytes())
        self.assertEqual(len(self.frames), N_FRAMES)

    def run_job(self, *options):
        jobs.write(self.folder / "job.yaml", self.job)
        done = self.correlate(self.folder / "job.yaml", self.folder / "out.fits", "--json",
                              *options)
        return json.loads(done.out), idi_files.read(self.folder / "out.fits"), done.err

    def valid_fractions(self, lost):
        """Of each integration, by the frames that are lost of Alder."""
        frames = np.ones(N_FRAMES)
        frames[sorted(lost)] = 0.0
        return frames[LEAD:LEAD + 8 * N_INTEGRATIONS].reshape(N_INTEGRATIONS, 8).mean(axis=1)

    def check_file(self, got, clean, fractions):
        for pair, share in (("AB", fractions), ("AA", fractions), ("BB", np.ones(N_INTEGRATIONS))):
            names = {"A": "Alder", "B": "Birch"}
            rows = got.rows(names[pair[0]], names[pair[1]])
            want = clean.rows(names[pair[0]], names[pair[1]])
            index = [round((got.middle[r] - START - INTEGRATION / 2) / INTEGRATION) for r in rows]
            self.assertEqual(index, [k for k in range(N_INTEGRATIONS) if share[k] > 0], pair)
            for row, k in zip(rows, index):
                self.check_near(f"weight {pair} {k}", got.weight[row], share[k],
                                float(SEGMENT / INTEGRATION) + 1e-6)
                if share[k] == 1.0:
                    self.assertEqual(got.visibility[row].tobytes(),
                                     clean.visibility[want[k]].tobytes(), f"{pair} {k}")

    def check_fault(self, faults, damage):
        self.assertIn(damage.kind, faults, faults.keys())
        fault = faults[damage.kind]
        if damage.n_frames:
            self.assertEqual(fault["frames"], damage.n_frames)
        if damage.first is not None:
            t = START + Fraction((damage.first - LEAD) * SAMPLES, FS)
            whole, _, fraction = times.text(t).partition(".")
            self.assertEqual(fault["first"]["station_clock_utc"],
                             f"{whole}.{fraction[:6].ljust(6, '0')}")

    def check_report(self, report, damage):
        faults = {f["kind"]: f for f in report["faults"] if f["station"] == "Alder"}
        if damage.kind is None:
            self.assertEqual(faults, {})
        else:
            self.check_fault(faults, damage)
        stream = report["streams"][0]
        inside = {k for k in damage.lost if LEAD <= k < LEAD + 8 * N_INTEGRATIONS}
        told = sum(stream["lost_fraction"].values()) + stream["not_recorded_fraction"]
        self.check_near("lost", told, len(inside) / (8 * N_INTEGRATIONS), 1e-9)
        self.check_near("valid", stream["valid_fraction"] + told, 1.0, 1e-9)

    def test_every_fault(self):
        _, clean, _ = self.run_job()
        for name, make in cases().items():
            damage = make(self.frames)
            with self.subTest(name):
                self.alder.write_bytes(b"".join(damage.pieces))
                report, got, _ = self.run_job()
                self.check_file(got, clean, self.valid_fractions(damage.lost))
                self.check_report(report, damage)

    def test_headers_of_the_network_between_frames(self):
        """Recorded along with every frame: stepped over, told once, and no fault; the faults of
        the frames are told as ever."""
        _, clean, _ = self.run_job()
        d = vdif_damage
        cases = {
            "clean": lambda f: d.Damage(f, set(), None, 0, None),
            "a frame missing": lambda f: d.missing(f, {40}),
            "neighbours swapped": lambda f: d.swapped(f, 40, 41),
            "payloads of fill": lambda f: d.filled(f, {25, 50, 51}),
            "headers overwritten": lambda f: d.junk_headers(f, {25, 50, 51, 52}),
            "bytes lost in a frame": lambda f: d.bytes_lost(f, 50, 30),
            "the last frame cut off": lambda f: d.truncated(f, 50),
        }
        random = np.random.default_rng(5)
        for n_before, n_after in ((42, 0), (8, 0), (0, 4), (58, 6)):
            for name, make in cases.items():
                damage = make(self.frames)
                with self.subTest(name, before=n_before, after=n_after):
                    same = random.bytes(n_before)  # but for a serial number
                    pieces = [(k.to_bytes(8, "little") + same)[:n_before] + p + same[:n_after]
                              if n_before else p + random.bytes(n_after)
                              for k, p in enumerate(damage.pieces)]
                    if name == "the last frame cut off":
                        pieces[-1] = pieces[-1][:len(pieces[-1]) - n_after]
                    self.alder.write_bytes(b"".join(pieces))
                    report, got, err = self.run_job()
                    self.check_file(got, clean, self.valid_fractions(damage.lost))
                    told = err.count(f"{n_before + n_after} bytes that are no VDIF")
                    self.assertEqual(told, 1, err)
                    self.check_report(report, damage)

    def test_what_stands_between_frames_may_look_like_a_header(self):
        """40 bytes before each frame of 160 that read as the header of frames of 296 bytes: with
        gaps of 104 these would follow one another through the whole file."""
        _, clean, _ = self.run_job()
        like = self.frames[0][:32] + bytes(8)
        like = vdif_damage.with_word(like, 2, 296 // 8)
        self.assertEqual(len(self.frames[0]), 160)
        self.alder.write_bytes(b"".join(like + f for f in self.frames))
        report, got, err = self.run_job()
        self.check_file(got, clean, np.ones(N_INTEGRATIONS))
        self.assertIn("40 bytes that are no VDIF", err)
        self.assertEqual(report["faults"], [])

    def test_files_that_overlap_and_leave_gaps(self):
        _, clean, _ = self.run_job()
        parts = [self.frames[:50], self.frames[40:70], self.frames[75:]]
        self.job["recordings"][0]["files"] = []
        for k, part in enumerate(parts):
            path = self.folder / f"part{k}.vdif"
            path.write_bytes(b"".join(part))
            self.job["recordings"][0]["files"].append(path.name)
        report, got, _ = self.run_job()
        self.check_file(got, clean, self.valid_fractions(set(range(70, 75))))
        faults = {f["kind"]: f["frames"] for f in report["faults"] if f["station"] == "Alder"}
        self.assertEqual(faults, {"missing": 5, "duplicate": 10})

    def test_second_copy_stands_in_for_a_bad_first(self):
        """Frames 40 to 49 are in both files, and of fill in the first."""
        _, clean, _ = self.run_job()
        first = vdif_damage.filled(self.frames[:50], set(range(40, 50))).pieces
        for name, part in (("a.vdif", first), ("b.vdif", self.frames[40:])):
            (self.folder / name).write_bytes(b"".join(part))
        self.job["recordings"][0]["files"] = ["a.vdif", "b.vdif"]
        _, got, _ = self.run_job()
        self.check_file(got, clean, np.ones(N_INTEGRATIONS))

    def test_fill_within_a_payload(self):
        """24 words of fill, 384 samples of 2 bits, from the 8th word of frame 40's payload on: the
        integration that holds them loses just these, and segments count to a sample."""
        _, clean, _ = self.run_job()
        f = self.frames[40]
        place = 32 + 4 * 7
        damaged = f[:place] + vdif_damage.FILL * 24 + f[place + 96:]
        self.alder.write_bytes(b"".join(self.frames[:40] + [damaged] + self.frames[41:]))
        report, got, _ = self.run_job()
        share = np.ones(N_INTEGRATIONS)
        share[(40 - LEAD) // 8] = 1 - 384 / (8 * SAMPLES)
        self.check_file(got, clean, share)
        self.check_near("lost", report["streams"][0]["lost_fraction"]["fill"],
                        384 / (8 * SAMPLES * N_INTEGRATIONS), 1e-9)

    def test_whole_seconds_off(self):
        """A station whose tags are 3 s late: told, and mended when the job says so."""
        _, clean, _ = self.run_job()
        late = [vdif_damage.with_word(f, 0, vdif_damage.word(f, 0) + 3) for f in self.frames]
        self.alder.write_bytes(b"".join(late))
        jobs.write(self.folder / "job.yaml", self.job)
        done = program.run("correlate", self.folder / "job.yaml", "-o", self.folder / "o.fits")
        self.assertEqual(done.code, 1)
        self.assertIn("Alder", done.err)
        self.job["recordings"][0]["time_offset_s"] = -3
        _, got, _ = self.run_job()
        self.check_file(got, clean, np.ones(N_INTEGRATIONS))

    def test_reference_epoch_off_by_a_half_year(self):
        _, clean, _ = self.run_job()
        epoch = vdif_damage.word(self.frames[0], 1) >> 24
        wrong = [vdif_damage.with_word(f, 1, vdif_damage.word(f, 1) - (1 << 24))
                 for f in self.frames]
        self.alder.write_bytes(b"".join(wrong))
        jobs.write(self.folder / "job.yaml", self.job)
        done = program.run("correlate", self.folder / "job.yaml", "-o", self.folder / "o.fits")
        self.assertEqual(done.code, 1)
        self.assertIn(f"reference_epoch: {epoch}", done.err)
        self.job["recordings"][0]["reference_epoch"] = epoch
        _, got, _ = self.run_job()
        self.check_file(got, clean, np.ones(N_INTEGRATIONS))

    def test_payload_orders_that_the_job_states(self):
        """The same codes, stored otherwise: the same bytes come out."""
        _, clean, _ = self.run_job()
        reverse = bytes(int(f"{b:08b}"[::-1], 2) for b in range(256))
        swap = bytes((b & 0x55) << 1 | b >> 1 & 0x55 for b in range(256))
        sign = bytes(b ^ 0xAA for b in range(256))

        def swapped(payload, n):
            return np.frombuffer(payload, dtype=np.uint8).reshape(-1, n)[:, ::-1].tobytes()
        orders = {
            ("bit_order", "reversed"): lambda p: p.translate(reverse),
            ("sign_bit", "lowest"): lambda p: p.translate(swap),
            ("encoding", "twos_complement"): lambda p: p.translate(sign),
            ("byte_order", "swapped_in_16"): lambda p: swapped(p, 2),
            ("byte_order", "swapped_in_32"): lambda p: swapped(p, 4),
            ("byte_order", "swapped_in_64"): lambda p: swapped(p, 8),
        }
        for (key, value), change in orders.items():
            with self.subTest(key=key, value=value):
                n_pad = -(len(self.frames[0]) - 32) % 8
                self.assertEqual(n_pad, 0)
                self.alder.write_bytes(b"".join(f[:32] + change(f[32:]) for f in self.frames))
                self.job["recordings"][0][key] = value
                _, got, _ = self.run_job()
                self.check_file(got, clean, np.ones(N_INTEGRATIONS))
                del self.job["recordings"][0][key]

    def test_headers_of_another_length_than_they_say(self):
        """VDIF 1.1.1, word 0: bit 30 says that words 4 to 7 are not there."""
        _, clean, _ = self.run_job()
        d = vdif_damage
        version = (1 << 24 | 1024).to_bytes(4, "little") + (0xACABFEED).to_bytes(4, "little")
        shorter = (len(self.frames[0]) - 16) // 8
        cases = {
            32: [d.with_word(f, 0, d.word(f, 0) | 1 << 30)[:16] + version + f[24:]
                 for f in self.frames],
            16: [(d.with_word(f, 2, d.word(f, 2) & 0xFF000000 | shorter))[:16] + f[32:]
                 for f in self.frames],
        }
        for header_bytes, frames in cases.items():
            with self.subTest(header_bytes):
                self.job["recordings"][0].pop("header_bytes", None)
                self.alder.write_bytes(b"".join(frames))
                jobs.write(self.folder / "job.yaml", self.job)
                done = program.run("correlate", self.folder / "job.yaml", "-o",
                                   self.folder / "o.fits")
                self.assertEqual(done.code, 1)
                self.assertIn(f"add header_bytes: {header_bytes}", done.err)
                self.job["recordings"][0]["header_bytes"] = header_bytes
                report, got, _ = self.run_job()
                self.check_file(got, clean, np.ones(N_INTEGRATIONS))
                self.assertEqual(report["faults"], [])

    def test_real_samples_whose_headers_call_them_complex(self):
        """VDIF 1.1.1, word 3: bit 31 says complex."""
        _, clean, _ = self.run_job()
        wrong = [vdif_damage.with_word(f, 3, vdif_damage.word(f, 3) | 1 << 31)
                 for f in self.frames]
        self.alder.write_bytes(b"".join(wrong))
        self.job["recordings"][0]["sampling"] = "real"
        _, got, messages = self.run_job()
        self.check_file(got, clean, np.ones(N_INTEGRATIONS))
        self.assertIn("the job's word counts", messages)

    def test_excluded_by_hand(self):
        _, clean, _ = self.run_job()
        begin, end = START + 2 * INTEGRATION + INTEGRATION / 4, START + 5 * INTEGRATION
        self.job["exclude"] = [{"stations": ["Alder"], "bands": ["low"],
                                "start": times.text(begin), "stop": times.text(end),
                                "reason": "the antenna was slewing"}]
        report, got, _ = self.run_job()
        share = np.ones(N_INTEGRATIONS)
        share[2:5] = 0.25, 0, 0
        self.check_file(got, clean, share)
        self.check_near("excluded", report["streams"][0]["lost_fraction"]["excluded"],
                        2.75 / N_INTEGRATIONS, 1e-9)
        with fits.open(self.folder / "out.fits") as file:
            flags = file["FLAG"].data
            self.assertEqual(len(flags), 1)
            self.assertEqual(list(flags["ANTS"][0]), [1, 0])  # Alder with everybody
            self.assertEqual(flags["REASON"][0].strip(), "the antenna was slewing")
            midnight = times.of_mjd(times.mjd_of(START)[0])
            days = [float(t - midnight) / 86400 for t in (begin, end)]
            # FLAG's TIMERANG is of single precision: 1 ms in a day is 1e-8 of it
            self.check_near("times", np.asarray(flags["TIMERANG"][0], dtype=float), days, 6e-8)

    def test_one_band_of_a_thread_excluded(self):
        """Two bands in the channels of one thread: the other loses nothing, and the recordings
        keep the job's numbers."""
        names, edges = ("Alder", "Birch"), {"low": LOW_HZ, "high": LOW_HZ + 4 * WIDTH_HZ}
        made = Campaign(self.folder, [Station(name, (0.0, 0.0)) for name in names],
                        {name: reference.Band(hz, WIDTH_HZ) for name, hz in edges.items()},
                        [reference.Scan(START, N_INTEGRATIONS * INTEGRATION, names, "Ousel")],
                        n_channels=CHANNELS, integration_s=INTEGRATION)
        for k, name in enumerate(names):
            random = np.random.default_rng(k)
            streams = []
            for c, (band, hz) in enumerate(edges.items()):
                tuned = signals.Receiver(hz, FS)
                x = signals.noise(random, tuned, N_FRAMES * SAMPLES)
                streams.append(Recorded(tuned, x, channel=c, band=band))
            made.record_vdif(name, streams, 2, SAMPLES,
                             start=START - Fraction(LEAD * SAMPLES, FS))
        self.job = made.job()
        _, clean, _ = self.run_job()
        self.job["exclude"] = [{"stations": ["Alder"], "bands": ["high"],
                                "start": times.text(START + INTEGRATION / 4),
                                "stop": times.text(START + INTEGRATION), "reason": "a transmitter"}]
        report, got, _ = self.run_job()
        rows = got.rows("Alder", "Birch")
        self.assertEqual(got.visibility[:, 0].tobytes(), clean.visibility[:, 0].tobytes())
        self.assertEqual(got.weight[:, 0].tobytes(), clean.weight[:, 0].tobytes())
        self.check_near("weights", got.weight[rows, 1, 0], [0.25] + [1.0] * (N_INTEGRATIONS - 1),
                        float(SEGMENT / INTEGRATION) + 1e-6)
        self.assertEqual(got.visibility[rows[1:], 1].tobytes(),
                         clean.visibility[rows[1:], 1].tobytes())
        self.assertEqual([s["lost_fraction"].get("excluded", 0) > 0 for s in report["streams"]],
                         [False, True, False, False])
        self.assertEqual([f["station"] for f in report["faults"] if f["kind"] == "excluded"],
                         ["Alder"])


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
