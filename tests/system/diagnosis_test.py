# SPDX-License-Identifier: GPL-3.0-or-later
"""whitefringe search on jobs with one mistake each: it is named, and what is proposed mends it.

The recordings are simulated once and are right; the mistakes are put into copies of the job, or
into copies of one recording. What a mistake does is known by construction.
"""

import copy
import json
import os
import shutil
import unittest
from pathlib import Path

import numpy as np
import yaml

import jobs
import program
import times
from campaign import START

BAND_HZ = 1.25e6
LOW_HZ, HIGH_HZ = 8400.0e6, 8402.5e6  # lower edge of the low band, upper edge of the high one
CHANNELS = 50
SCAN_S, LATER_S = 1.2, 40  # the second scan is another source's
BITS, PAYLOAD_BYTES, HEADER_BYTES = 2, 5000, 32
FRAME_S = 8 * PAYLOAD_BYTES / (BITS * 4) / (2 * BAND_HZ)  # of Birch: four channels in a thread
# SNR of one product: 0.8825 rho sqrt(2 B t), B all bands, 2-bit samples (Thompson, Moran, Swenson
# 2017, sections 8.3 and 9.3): 10 in SCAN_S.
FAINT = 10 / (0.8825 * np.sqrt(2 * 2 * BAND_HZ * SCAN_S))
WINDOW = ("--window-delay", "20e-6")
REMARK = "# remark of the operators: wind from the west"
# Invented positions and sources, high above all four stations on the day.
STATIONS = {"Alder": ([3349894.9596, -841435.4546, 5344072.8723], 1.25e-6),
            "Birch": ([4244305.4255, -2420909.0732, 4087019.7820], -110.4e-6),
            "Cedar": ([-1349805.3958, -4834459.6792, 3923408.3871], 7.8e-6),
            "Damson": ([4223705.3872, -3723697.1980, 2986426.8837], 0.6e-6)}
SOURCES = (("Ousel", "18:56:12.345678", "+40:00:34.56789"),
           ("Willowbrook", "20:16:56.789012", "+35:01:02.34567"))


def by_bands(key):
    """R and L of both bands, each in a thread or channel of its own."""
    return [{"band": band, "polarization": p, key: 2 * b + k}
            for b, band in enumerate(("low", "high")) for k, p in enumerate("RL")]


def by_centres(*centres_hz, sideband, key):
    return [{"centre_hz": hz, "sideband": sideband, "polarization": p, key: 2 * b + k}
            for b, hz in enumerate(centres_hz) for k, p in enumerate("RL")]


RECORDINGS = (("Alder", "real", 2 * BAND_HZ, by_bands("thread")),
              ("Birch", "real", 2 * BAND_HZ, by_bands("channel")),
              ("Cedar", "complex", 2 * BAND_HZ,
               by_centres(LOW_HZ + BAND_HZ, sideband="upper", key="channel")),
              ("Damson", "complex", BAND_HZ,
               by_centres(LOW_HZ + BAND_HZ / 2, HIGH_HZ - BAND_HZ / 2, sideband="lower",
                          key="thread")))


def sky(correlation):
    scans = [{"name": f"S0{k + 1}", "source": source, "start": times.text(START + k * LATER_S),
              "duration_s": SCAN_S} for k, (source, *_) in enumerate(SOURCES)]
    return {
        "campaign": "Forest-9",
        "stations": [{"name": name, "position_itrf_m": position,
                      "clock": {"reference": times.text(START), "ahead_s": ahead_s}}
                     for name, (position, ahead_s) in STATIONS.items()],
        "sources": [{"name": name, "right_ascension_hms": ra, "declination_dms": dec}
                    for name, ra, dec in SOURCES],
        "scans": scans,
        "bands": [{"name": "low", "edge_hz": LOW_HZ, "bandwidth_hz": BAND_HZ, "sideband": "upper"},
                  {"name": "high", "edge_hz": HIGH_HZ, "bandwidth_hz": BAND_HZ,
                   "sideband": "lower"}],
        "recordings": [{"station": name, "files": [f"{name.lower()}.vdif"], "bits": BITS,
                        "sample_rate_hz": int(rate), "sampling": sampling,
                        "payload_bytes": PAYLOAD_BYTES, "streams": streams}
                       for name, sampling, rate, streams in RECORDINGS],
        "correlation": {"channels": CHANNELS, "integration_s": 0.2},
        "earth_orientation": jobs.earth_orientation_days(START),
        "sky": {"seed": 3, "components": [{"source": name, "correlation": correlation,
                                           "cross_hand": [0.08, -0.05]} for name, *_ in SOURCES]},
    }


def entry(job, part, name):
    key = "station" if part == "recordings" else "name"
    return next(e for e in job[part] if e[key] == name)


def streams_in_sky(job, name):
    """The streams, with edges in place of names of bands."""
    streams = entry(job, "recordings", name)["streams"]
    for stream in streams:
        if "band" in stream:
            band = entry(job, "bands", stream.pop("band"))
            stream.update(edge_hz=band["edge_hz"], sideband=band["sideband"])
    return streams


OTHER = {"upper": "lower", "lower": "upper", "R": "L", "L": "R"}


class Diagnosis(program.SystemTest):
    made = None

    @classmethod
    def setUpClass(cls):
        cls.made = Path(os.environ["WF_SCRATCH"]) / "recordings"
        shutil.rmtree(cls.made, ignore_errors=True)
        cls.made.mkdir(parents=True)
        jobs.write(cls.made / "sky.yaml", sky(0.08))
        done = program.run("simulate", cls.made / "sky.yaml", "-o", cls.made / "out")
        if done.code != 0:
            raise RuntimeError(done.err)
        cls.made = cls.made / "out"
        with open(cls.made / "job.yaml", encoding="utf-8") as file:
            cls.right = yaml.safe_load(file)
        for part in cls.right["bands"]:
            part["edge_hz"] = float(part["edge_hz"])
        for recording in cls.right["recordings"]:
            recording["files"] = [str(cls.made / f) for f in recording["files"]]
            for stream in recording["streams"]:
                if "centre_hz" in stream:
                    stream["centre_hz"] = float(stream["centre_hz"])
        for station in cls.right["stations"]:
            station["clock"]["ahead_s"] = float(station["clock"]["ahead_s"])

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.made, ignore_errors=True)

    def write(self, job):
        """In a folder of its own, with a remark in every entry, which has to survive."""
        folder = self.folder / str(len(list(self.folder.iterdir())))
        folder.mkdir()
        path = folder / "job.yaml"
        lines = jobs.dump(job).splitlines()
        path.write_text("".join(f"{line}  {REMARK}\n" if line.startswith("  - ") else f"{line}\n"
                                for line in lines), encoding="utf-8")
        return path

    def search(self, job, *options):
        done = program.run("search", job, "--scan", "S01", "--json", *WINDOW, *options)
        self.assertNotEqual(done.out, "", done.err)
        return done, json.loads(done.out)

    def only(self, got, station):
        self.assertEqual([d["station"] for d in got["diagnoses"]], [station])
        return got["diagnoses"][0]

    def check_all_is_well(self, path):
        done, got = self.search(path)
        self.assertEqual(done.code, 0, done.err)
        self.assertTrue(got["all_found"])
        self.assertEqual(got["diagnoses"], [])
        self.assertEqual({s["verdict"].split(";")[0] for s in got["stations"]}, {"fringes"})

    def check_mistake(self, job, station, name, *words, top=True):
        """Named, mended in the job, comments kept, and the fringes are there."""
        path = self.write(job)
        before = path.read_text(encoding="utf-8")
        done, got = self.search(path, "--apply")
        found = self.only(got, station)
        best = found["hypotheses"][0] if found["hypotheses"] else None
        self.assertEqual(found["verdict"], "mistake in the job", found)
        if top:
            self.assertEqual(best["name"], name, found["text"])
        for word in words:
            self.assertIn(word, found["text"])
        self.assertEqual(done.code, 0, done.err)
        after = path.read_text(encoding="utf-8")
        self.assertEqual(after.count(REMARK), before.count(REMARK))
        self.assertEqual(path.with_name("job.yaml.1").read_text(encoding="utf-8"), before)
        self.check_all_is_well(path)

    def job(self):
        return copy.deepcopy(self.right)

    def test_the_right_job_needs_nothing(self):
        self.check_all_is_well(self.write(self.job()))

    # Sense and place in the sky

    def test_inverted_sideband(self):
        job = self.job()
        for s in streams_in_sky(job, "Birch"):
            s["edge_hz"] += BAND_HZ if s["sideband"] == "upper" else -BAND_HZ
            s["sideband"] = OTHER[s["sideband"]]
        self.check_mistake(job, "Birch", "sideband_inverted", "sense of its frequencies")

    def test_other_sideband_of_the_edge(self):
        job = self.job()
        for s in streams_in_sky(job, "Birch"):
            s["sideband"] = OTHER[s["sideband"]]
        self.check_mistake(job, "Birch", "sideband_beyond_the_edge")

    def test_i_and_q_exchanged(self):
        job = self.job()
        for s in entry(job, "recordings", "Damson")["streams"]:
            s["sideband"] = OTHER[s["sideband"]]
        self.check_mistake(job, "Damson", "sideband_inverted", "I and Q")

    def test_sky_frequency(self):
        for offset_hz, words in ((BAND_HZ / CHANNELS, "1 channel lower"),
                                 (-BAND_HZ, "1 band width higher"), (1e6, "1 MHz lower"),
                                 (-2e6, "2 MHz higher")):
            with self.subTest(offset_hz):
                job = self.job()
                for s in streams_in_sky(job, "Birch"):
                    s["edge_hz"] += offset_hz
                self.check_mistake(job, "Birch", "sky_frequency", words)

    # Order

    def test_swapped_polarizations(self):
        job = self.job()
        for s in entry(job, "recordings", "Birch")["streams"]:
            s["polarization"] = OTHER[s["polarization"]]
        self.check_mistake(job, "Birch", "polarizations_swapped", "R is L", top=False)

    def test_reversed_bands(self):
        for name, key in (("Alder", "thread"), ("Birch", "channel")):
            with self.subTest(name):
                job = self.job()
                for s in entry(job, "recordings", name)["streams"]:
                    s[key] = (s[key] + 2) % 4
                self.check_mistake(job, name, "bands_reversed", "opposite order")

    def test_polarizations_apart(self):
        """R of both bands, then L of both: the job has them by turns."""
        job = self.job()
        for s in entry(job, "recordings", "Birch")["streams"]:
            s["channel"] = {0: 0, 1: 2, 2: 1, 3: 3}[s["channel"]]
        self.check_mistake(job, "Birch", "streams_interleaved")

    # Samples

    def test_codes(self):
        for key, value, name in (("sign_bit", "lowest", "sign_and_magnitude_bits"),
                                 ("encoding", "twos_complement", "codes"),
                                 ("bit_order", "reversed", "bit_order"),
                                 ("byte_order", "swapped_in_32", "byte_order")):
            with self.subTest(key):
                job = self.job()
                entry(job, "recordings", "Birch")[key] = value
                self.check_mistake(job, "Birch", name)

    # Time

    def test_whole_seconds(self):
        for offset_s, words in ((1, "1 s too late"), (-3, "3 s too early")):
            with self.subTest(offset_s):
                job = self.job()
                entry(job, "recordings", "Birch")["time_offset_s"] = offset_s
                self.check_mistake(job, "Birch", "whole_seconds", words)

    def test_half_year(self):
        job = self.job()
        entry(job, "recordings", "Birch")["reference_epoch"] = 51
        self.check_mistake(job, "Birch", "reference_epoch", "January 2026")

    def test_times_of_another_scan(self):
        job = self.job()
        entry(job, "recordings", "Birch")["time_offset_s"] = LATER_S
        self.check_mistake(job, "Birch", "recording_of_other_scan", "S02")

    def test_one_frame(self):
        job = self.job()
        entry(job, "stations", "Birch")["clock"]["ahead_s"] += FRAME_S
        self.check_mistake(job, "Birch", "one_frame")

    def test_sign_of_the_clock(self):
        job = self.job()
        clock = entry(job, "stations", "Birch")["clock"]
        clock["ahead_s"] = -clock["ahead_s"]
        self.check_mistake(job, "Birch", "clock_sign")

    # Place

    def test_sign_of_a_coordinate(self):
        job = self.job()
        position = entry(job, "stations", "Birch")["position_itrf_m"]
        position[1] = -position[1]
        self.check_mistake(job, "Birch", "position_sign", "y coordinate")

    def test_position_of_a_neighbour(self):
        """The right one is nowhere in the job: said, not mended."""
        job = self.job()
        entry(job, "stations", "Birch")["position_itrf_m"] = list(STATIONS["Cedar"][0])
        done, got = self.search(self.write(job))
        found = self.only(got, "Birch")
        self.assertEqual(done.code, 1)
        self.assertEqual(found["verdict"], "mistake in the job")
        self.assertIn("Cedar", found["text"])
        self.assertEqual(got["job_changes"], [])

    def test_another_source(self):
        job = self.job()
        job["scans"][0]["source"] = "Willowbrook"
        path = self.write(job)
        done, got = self.search(path, "--apply")
        self.assertEqual([d["station"] for d in got["diagnoses"]], list(STATIONS))
        for found in got["diagnoses"]:
            self.assertEqual(found["verdict"], "mistake in the job")
            self.assertEqual(found["hypotheses"][0]["name"], "other_source")
            self.assertIn("Ousel", found["text"])
        self.assertEqual(len(got["job_changes"]), 1)
        self.assertEqual(done.code, 0, done.err)
        self.check_all_is_well(path)

    # Recordings that no job mends

    @staticmethod
    def frames(path):
        return np.fromfile(path, dtype=np.uint8).reshape(-1, HEADER_BYTES + PAYLOAD_BYTES)

    def spoilt(self, change):
        """A job whose recording of Birch has payloads [n_frames, bytes] as `change` makes them."""
        job = self.job()
        recording = entry(job, "recordings", "Birch")
        frames = self.frames(recording["files"][0])
        frames[:, HEADER_BYTES:] = change(frames[:, HEADER_BYTES:])
        recording["files"] = [str(self.folder / "birch.vdif")]
        frames.tofile(recording["files"][0])
        return job

    def check_recording(self, job, words):
        done, got = self.search(self.write(job))
        found = self.only(got, "Birch")
        self.assertEqual(done.code, 1)
        self.assertEqual(found["verdict"], "recording at fault", found)
        self.assertIn(words, found["text"])
        self.assertEqual(got["job_changes"], [])
        return found

    def test_dead_station(self):
        found = self.check_recording(self.spoilt(lambda payloads: np.full_like(payloads, 0xAA)),
                                     "no power")
        self.assertEqual(found["hypotheses"], [])

    def test_dead_band(self):
        """Two of four channels; the others hear noise alone."""
        def half_dead(payloads):
            noise = self.noise(payloads)
            return (noise & 0x0F) | 0xA0

        self.check_recording(self.spoilt(half_dead), "no power")

    def test_stale_buffers(self):
        """The same eight frames again and again."""
        self.check_recording(
            self.spoilt(lambda payloads: payloads[np.arange(len(payloads)) % 8]), "come again")

    @staticmethod
    def noise(payloads):
        """Of a sampler with the best levels: each state's share of a normal distribution
        (Thompson, Moran, Swenson 2017, section 8.3)."""
        generator = np.random.default_rng(5)
        codes = np.digitize(generator.standard_normal((*payloads.shape, 4)),
                            (-0.98159, 0.0, 0.98159)).astype(np.uint8)
        return codes @ np.array([1, 4, 16, 64], dtype=np.uint8)

    def test_tones_that_are_missing(self):
        job = self.spoilt(self.noise)
        entry(job, "stations", "Birch")["phase_calibration"] = {"spacing_hz": 1000000}
        done, got = self.search(self.write(job))
        found = self.only(got, "Birch")
        self.assertEqual(done.code, 1)
        self.assertEqual(found["verdict"], "unexplained")
        self.assertTrue(any("tones" in f for f in found["findings"]), found["findings"])
        self.assertEqual(got["job_changes"], [])

    def test_source_that_is_too_weak(self):
        """Alder and Cedar reach some 10 sigma, and Birch should as well, which is less than sure:
        it hears noise alone, and nothing is wrong with it."""
        described = sky(FAINT)
        described["stations"] = described["stations"][:3]
        described["recordings"] = described["recordings"][:3]
        described["scans"] = described["scans"][:1]
        jobs.write(self.folder / "sky.yaml", described)
        done = program.run("simulate", self.folder / "sky.yaml", "-o", self.folder / "faint")
        self.assertEqual(done.code, 0, done.err)
        frames = self.frames(self.folder / "faint/birch.vdif")
        frames[:, HEADER_BYTES:] = self.noise(frames[:, HEADER_BYTES:])
        frames.tofile(self.folder / "faint/birch.vdif")
        done, got = self.search(self.folder / "faint/job.yaml")
        found = self.only(got, "Birch")
        self.assertEqual(done.code, 1)
        self.assertEqual(found["verdict"], "source too weak", found["text"])
        self.assertIn("healthy", found["text"])
        self.assertEqual(found["findings"], [])
        self.assertEqual(got["job_changes"], [])


if __name__ == "__main__":
    unittest.main()
