# SPDX-License-Identifier: GPL-3.0-or-later
"""inspect: sampler states, tones, repetition, gaps and faults of invented recordings.

Samples are made, quantised and packed with numpy (tests/support/vdif_files.py). Statistical limits
are five sigma: a false alarm of 6e-7 for each number checked, with the seeds fixed.
"""

import json
import os
import struct
import subprocess
import unittest
from fractions import Fraction

import numpy as np

import program
import sound_files
import times
import vdif_files

START = times.parse("2026-03-01T12:00:00")
PNG = b"\x89PNG\r\n\x1a\n"
RATE_HZ = 4000000
FRAME = 8000  # samples


def write(path, codes, *, bits=2, is_complex=False, missing=(), invalid=(), rate_hz=RATE_HZ,
          order=None):
    """codes: [n_samples][n_channels] or [n_samples][n_channels][2], or a list of such: threads."""
    threads = codes if isinstance(codes, list) else [codes]
    layout = vdif_files.Layout(START, rate_hz, bits, is_complex=is_complex,
                               samples_per_frame=FRAME)
    vdif_files.write(path, layout, [vdif_files.Thread(c, number=k, missing=missing,
                                                      invalid=invalid)
                                    for k, c in enumerate(threads)], order)


def noise(n, seed=1):
    return np.random.default_rng(seed).standard_normal(n)


def comb(n, spacing_hz, offset_hz, n_tones, delay_s, phase_rad, *, is_complex=False,
         rate_hz=RATE_HZ):
    """Sum of tones of amplitude 1: tone m has the phase phase_rad - 2 pi m spacing delay at the
    first sample, which is at a whole second."""
    t = np.arange(n) / rate_hz
    out = np.zeros(n, dtype=complex)
    for m in range(n_tones):
        out += np.exp(2j * np.pi * ((offset_hz + m * spacing_hz) * t - m * spacing_hz * delay_s)
                      + 1j * phase_rad)
    return out if is_complex else out.real


def inspect(*arguments):
    done = program.run("inspect", *arguments, "--json")
    if done.code != 0:
        raise AssertionError(f"inspect ended with {done.code}: {done.err}")
    return json.loads(done.out)


class Samplers(program.SystemTest):
    def sampler(self, x, bits=2):
        path = self.folder / "alder.vdif"
        write(path, vdif_files.quantise(x, bits)[:, None], bits=bits)
        stream = inspect(path, "--sample-rate", RATE_HZ)["streams"][0]
        return stream, stream["samplers"][0]

    def test_two_bits_at_the_best_levels(self):
        """Outer states 0.1632, inner 0.3368, efficiency 0.8825 at thresholds of 0.98159 sigma:
        Max 1960, IRE Trans. IT-6, 7; Thompson, Moran, Swenson 2017, ch. 8. Power in the levels 1
        and 3.3359: 4.304860."""
        n = 400000
        stream, sampler = self.sampler(noise(n))
        for got, want in zip(sampler["state_fractions"], (0.1632, 0.3368, 0.3368, 0.1632)):
            self.check_near("state", got, want, 5 * np.sqrt(want * (1 - want) / n) + 5e-5)
        # sigma of an edge by counts: sqrt(p(1-p)/n)/phi(v0); both edges are averaged
        edge = np.sqrt(0.1632 * 0.8368 / n) / (np.exp(-0.5 * 0.98159**2) / np.sqrt(2 * np.pi))
        self.check_near("v0/sigma", 1 / sampler["sigma_steps"], 0.98159, 5 * edge)
        self.check_near("offset", sampler["offset_sigma"], 0, 5 * np.sqrt(np.pi / 2 / n))
        self.check_near("efficiency", sampler["quantisation_efficiency"], 0.882518, 1e-4)
        self.check_near("best", sampler["best_quantisation_efficiency"], 0.882518, 1e-4)
        self.check_near("power", stream["power"], 4.304860,
                        5 * np.sqrt((3.3359**2 - 1)**2 * 0.3264 * 0.6736 / n))
        self.assertEqual(stream["verdict"], "healthy")
        self.assertEqual((stream["comb"], stream["tones"], stream["repetitions"]), (None, [], []))

    def test_levels_measured_are_those_made(self):
        for scale in (0.8, 1.25):
            _, sampler = self.sampler(scale * noise(400000))
            self.check_near("v0/sigma", 1 / sampler["sigma_steps"], 0.98159 / scale, 0.015)

    def test_verdicts(self):
        x = noise(80000)
        stuck = np.full(80000, 1)
        cases = {
            "healthy": vdif_files.quantise(x, 2),
            "levels too low": vdif_files.quantise(0.6 * x, 2),
            "levels too high": vdif_files.quantise(1.5 * x, 2),
            "DC offset": vdif_files.quantise(x + 0.3, 2),
            "one-sided": vdif_files.quantise(np.abs(x), 2),
            "stuck": stuck,
        }
        for want, codes in cases.items():
            path = self.folder / "alder.vdif"
            write(path, codes[:, None].astype(np.uint32))
            got = inspect(path, "--sample-rate", RATE_HZ)["streams"][0]["verdict"]
            self.assertEqual(got, want)
        write(path, (vdif_files.quantise(x, 2) | 1)[:, None])  # the magnitude bit does not move
        self.assertEqual(inspect(path, "--sample-rate", RATE_HZ)["streams"][0]["verdict"], "stuck")

    def test_one_bad_part_of_a_complex_stream_is_named(self):
        x = noise(80000) + 1j * (noise(80000, 2) + 0.4)
        path = self.folder / "alder.vdif"
        write(path, vdif_files.quantise(x, 8)[:, None], bits=8, is_complex=True)
        stream = inspect(path, "--sample-rate", RATE_HZ)["streams"][0]
        self.assertEqual([s["verdict"] for s in stream["samplers"]], ["healthy", "DC offset"])
        self.assertEqual(stream["verdict"], "DC offset")
        self.check_near("offset", stream["samplers"][1]["offset_sigma"], 0.4,
                        5 / np.sqrt(80000) + 0.016)  # half a step of 0.0308 sigma is rounded down

    def test_sound_file(self):
        path = self.folder / "birch.wav"
        held = sound_files.write(path, [noise(96000) + 1j * noise(96000, 2)], 48000)
        got = inspect(path, "--sampling", "complex")
        self.assertFalse(got["start_known"])
        self.assertEqual(got["sample_rate_hz"], 48000)
        stream = got["streams"][0]
        self.assertEqual((stream["sampling"], stream["verdict"]), ("complex", "healthy"))
        self.check_near("power", stream["power"], np.mean(np.abs(held[0])**2),
                        1e-6 * stream["power"])


class Tones(program.SystemTest):
    def stream(self, x, *options, bits=2):
        path = self.folder / "alder.vdif"
        write(path, vdif_files.quantise(x, bits)[:, None], bits=bits,
              is_complex=np.iscomplexobj(x))
        return inspect(path, "--sample-rate", RATE_HZ, *options)["streams"][0]

    def check_comb(self, got, x, want, efficiency):
        """Phase noise of a tone: amplitude a of unit power has a/sqrt(2) in x cos; over n samples
        its sigma is 1/(a sqrt(n/2) sqrt(efficiency)); delay as by a line through the tones."""
        spacing, offset, n_tones, delay, phase, amplitude = want
        n = len(x)
        parts = 2 if np.iscomplexobj(x) else 1
        self.assertEqual((got["spacing_hz"], got["offset_hz"]), (spacing, offset))
        self.assertEqual(len(got["tones"]), n_tones)
        fraction = amplitude**2 / (2 if parts == 1 else 1) * efficiency
        sigma = 1 / np.sqrt(fraction * n * parts)  # of amplitude and of phase
        spread = spacing * np.sqrt((n_tones**2 - 1) / 12)
        self.check_near("delay", got["delay_s"], delay,
                        5 * sigma / (2 * np.pi * spread * np.sqrt(n_tones)), "s")
        self.check_near("delay error", got["delay_error_s"],
                        sigma / (2 * np.pi * spread * np.sqrt(n_tones)), 0.3 * got["delay_error_s"])
        self.assertGreater(got["coherence"], 0.9)
        for m, tone in enumerate(got["tones"]):
            want_phase = phase - 2 * np.pi * m * spacing * delay
            off = np.angle(np.exp(1j * (np.radians(tone["phase_deg"]) - want_phase)))
            self.check_near("phase", off, 0, 5 * sigma, "rad")
            self.check_near("amplitude", tone["amplitude"], np.sqrt(fraction),
                            5 / np.sqrt(n * parts) + 0.05 * np.sqrt(fraction))

    def test_comb_of_two_bits(self):
        want = (100000, 12000, 20, 1.234e-6, 0.7, 0.05)
        x = noise(1600000) + 0.05 * comb(1600000, *want[:5])
        x /= x.std()
        self.check_comb(self.stream(x)["comb"], x, want, 0.8825)

    def test_comb_of_one_bit_under_strong_noise(self):
        """Half a per mille of the power in each tone."""
        want = (200000, 37000, 10, -2.1e-6, -2.0, 0.03)
        x = noise(1600000) + 0.03 * comb(1600000, *want[:5])
        x /= x.std()
        self.check_comb(self.stream(x, bits=1)["comb"], x, want, 2 / np.pi)

    def test_comb_of_complex_samples(self):
        want = (500000, -1765000, 8, 0.345e-6, 1.1, 0.05)
        x = np.sqrt(0.5) * (noise(800000) + 1j * noise(800000, 2))
        x = x + 0.05 * comb(800000, *want[:5], is_complex=True)
        self.check_comb(self.stream(x / np.sqrt(np.mean(np.abs(x)**2)) * np.sqrt(2))["comb"], x,
                        want, 0.8825)

    def test_spacing_that_is_not_usual_is_asked_for(self):
        want = (125000, 12000, 16, 0.5e-6, 0.3, 0.08)
        x = noise(400000) + 0.08 * comb(400000, *want[:5])
        x /= x.std()
        self.assertEqual(self.stream(x, "--tone-spacing", 125000)["comb"]["spacing_hz"], 125000)

    def test_single_tones_are_found_where_they_are(self):
        """Two tones of 1 % and 0.3 % of the power; bins are 64 Hz wide or less."""
        n = 1600000
        t = np.arange(n) / RATE_HZ
        x = noise(n) + np.sqrt(0.02) * np.cos(2 * np.pi * 612345.0 * t) + \
            np.sqrt(0.006) * np.cos(2 * np.pi * 1500321.0 * t)
        tones = self.stream(x / x.std())["tones"]
        self.assertEqual(len(tones), 2)
        self.check_near("strong tone", tones[0]["frequency_hz"], 612345.0, 15, "Hz")
        self.check_near("weak tone", tones[1]["frequency_hz"], 1500321.0, 15, "Hz")
        self.check_near("power", tones[0]["power_fraction"], 0.8825 * 0.01 / 1.013, 0.0006)
        self.check_near("power", tones[1]["power_fraction"], 0.8825 * 0.003 / 1.013, 0.0004)

    def test_kurtosis_tells_tones_and_pulses_from_noise(self):
        """A steady tone's channel has kurtosis below 1, one of pulses above: Nita and Gary 2010,
        MNRAS 406, L60. Of noise, five sigma are exceeded by chance 3e-7 times on either side."""
        n = 1600000
        t = np.arange(n) / RATE_HZ
        tone = np.cos(2 * np.pi * 500500.0 * t)
        pulses = np.cos(2 * np.pi * 1500500.0 * t) * (np.arange(n) % 40000 < 4000)
        quiet = self.stream(noise(n))["spectrum"]
        self.assertEqual(quiet["channels_outside"], 0)
        sigma = 2 / np.sqrt(quiet["transforms"])
        self.check_near("scatter", np.std(quiet["kurtosis"][1:]), sigma, 5 * sigma / np.sqrt(1022))
        x = noise(n) + 0.1 * tone + 0.3 * pulses
        loud = self.stream(x / x.std())["spectrum"]
        channel = [int(round(f / loud["channel_hz"])) for f in (500500.0, 1500500.0)]
        self.assertLess(loud["kurtosis"][channel[0]], loud["kurtosis_low"])
        self.assertGreater(loud["kurtosis"][channel[1]], loud["kurtosis_high"])


class Faults(program.SystemTest):
    def test_data_that_come_again(self):
        """Every frame's payload stands twice in a row: half of the products of samples a frame
        apart are squares."""
        codes = vdif_files.quantise(noise(1600000), 2)
        for k in range(0, 200, 2):
            codes[(k + 1) * FRAME:(k + 2) * FRAME] = codes[k * FRAME:(k + 1) * FRAME]
        path = self.folder / "alder.vdif"
        write(path, codes[:, None])
        found = inspect(path, "--sample-rate", RATE_HZ)["streams"][0]["repetitions"]
        self.assertEqual(found[0]["lag_samples"], FRAME)
        self.check_near("coefficient", found[0]["coefficient"], 0.5, 0.05)

    def test_every_gap_is_found(self):
        codes = vdif_files.quantise(noise(800000), 2)[:, None]
        path = self.folder / "alder.vdif"
        write(path, [codes, codes], missing=(10, 11, 40), invalid=(70,))
        got = inspect(path, "--sample-rate", RATE_HZ, "--all")
        gaps = [(g["thread"], g["first_sample"], g["samples"]) for g in got["gaps"]]
        want = [(t, k * FRAME, n * FRAME) for k, n in ((10, 2), (40, 1), (70, 1)) for t in (0, 1)]
        self.assertEqual(gaps, want)
        self.assertEqual(got["gaps"][0]["start_utc"], "2026-03-01T12:00:00.020000000")
        self.check_near("valid", got["streams"][0]["valid_fraction"], 0.96, 1e-12)
        frames = got["frames"]
        self.assertEqual((frames["expected"], frames["found"], frames["lost"]), (200, 194, 6))
        self.assertEqual((frames["duplicated"], frames["invalid"]), (0, 2))  # frame 70, two threads
        text = program.run("inspect", path, "--sample-rate", RATE_HZ, "--all").out
        self.assertIn("2026-03-01T12:00:00.020000000", text)

    def test_frames_that_stand_twice_are_counted(self):
        """Of two threads frame 20 stands twice, frame 34 is marked invalid, and frame 35 is
        fill."""
        codes = vdif_files.quantise(noise(400000), 2)[:, None]
        path = self.folder / "alder.vdif"
        write(path, [codes, codes], invalid=(34,))
        n = 32 + FRAME // 4
        frames = [path.read_bytes()[k:k + n] for k in range(0, 100 * n, n)]
        for k in (70, 71):
            frames[k] = frames[k][:32] + bytes.fromhex("44332211") * ((n - 32) // 4)
        path.write_bytes(b"".join(frames[:42] + frames[40:]))
        got = inspect(path, "--sample-rate", RATE_HZ, "--all")
        counts = got["frames"]
        self.assertEqual((counts["expected"], counts["found"], counts["lost"]), (100, 102, 0))
        self.assertEqual((counts["duplicated"], counts["invalid"]), (2, 4))
        faults = {f["kind"]: (f["frames"], f["lost_samples"]) for f in got["faults"]}
        self.assertEqual(faults, {"duplicate": (2, 0), "invalid_flag": (2, 2 * FRAME),
                                  "fill": (2, 2 * FRAME)})

    def test_a_long_gap_is_seen_from_places(self):
        """Of ten seconds the third to the sixth are missing; the ends are found to the sample."""
        rate_hz = 2000000
        codes = vdif_files.quantise(noise(20000000), 1).astype(np.uint8)[:, None]
        path = self.folder / "alder.vdif"
        write(path, codes, bits=1, missing=range(1000 - 250, 1500 - 3), rate_hz=rate_hz)
        got = inspect(path)
        self.assertEqual(got["sample_rate_hz"], rate_hz)
        self.assertEqual([(g["first_sample"], g["samples"]) for g in got["gaps"]],
                         [(750 * FRAME, 747 * FRAME)])

    def test_files_follow_one_another(self):
        codes = vdif_files.quantise(noise(800000), 2)[:, None]
        write(self.folder / "both.vdif", codes)
        data = (self.folder / "both.vdif").read_bytes()
        (self.folder / "a.vdif").write_bytes(data[:len(data) // 2])
        (self.folder / "b.vdif").write_bytes(data[len(data) // 2:])
        got = inspect(self.folder / "a.vdif", self.folder / "b.vdif", "--sample-rate", RATE_HZ)
        self.check_near("length", got["length_s"], 0.2, 1e-12, "s")
        self.assertEqual(got["frames"]["found"], 100)


class Pictures(program.SystemTest):
    def test_picture_has_a_row_for_each_stream(self):
        """1600 points wide; 210 for a row, 140 for head and foot."""
        codes = vdif_files.quantise(noise(160000), 2).reshape(-1, 2)
        path = self.folder / "al'der.vdif"
        write(path, codes)
        picture = self.folder / "out" / "alder.png"
        done = program.run("inspect", path, "--sample-rate", RATE_HZ, "--plot", picture)
        self.assertEqual(done.code, 0, done.err)
        data = picture.read_bytes()
        self.assertEqual(data[:8], PNG)
        self.assertEqual(struct.unpack(">II", data[16:24]), (1600, 560))
        self.assertEqual(data[-8:-4], b"IEND")
        self.assertEqual(os.listdir(picture.parent), ["alder.png"])

    def test_wide_samples_and_silence_are_drawn(self):
        path = self.folder / "birch.wav"
        sound_files.write(path, [noise(48000), np.zeros(48000)], 48000)
        picture = self.folder / "birch.png"
        done = program.run("inspect", path, "--plot", picture)
        self.assertEqual(done.code, 0, done.err)
        self.assertEqual(struct.unpack(">II", picture.read_bytes()[16:24]), (1600, 560))
        self.assertIn("stuck", done.out)

    def test_missing_gnuplot_leaves_nothing(self):
        path = self.folder / "birch.wav"
        sound_files.write(path, [noise(4800)], 48000)
        done = subprocess.run([os.environ["WF_PROGRAM"], "inspect", path, "--plot",
                               self.folder / "birch.png"], env={"PATH": str(self.folder)},
                              capture_output=True, text=True, check=False, timeout=60)
        self.assertEqual(done.returncode, 3)
        self.assertIn("apt install gnuplot", done.stderr)
        self.assertEqual(os.listdir(self.folder), ["birch.wav"])


class Refusals(program.SystemTest):
    def refused(self, code, text, *arguments):
        done = program.run("inspect", *arguments)
        self.assertEqual(done.code, code, done.err)
        self.assertTrue(done.err.startswith("whitefringe: "), done.err)
        self.assertIn(text, done.err)
        self.assertEqual(done.out, "")

    def test_what_is_no_recording(self):
        self.refused(1, "missing.vdif", self.folder / "missing.vdif")
        (self.folder / "empty.vdif").write_bytes(b"")
        self.refused(1, "empty.vdif", self.folder / "empty.vdif")
        (self.folder / "picture.png").write_bytes(PNG + bytes(range(256)) * 40)
        self.refused(1, "picture.png", self.folder / "picture.png")
        self.refused(1, str(self.folder), self.folder)

    def test_a_rate_that_cannot_be_known(self):
        path = self.folder / "alder.vdif"
        write(path, vdif_files.quantise(noise(80000), 2)[:, None])
        self.refused(1, "--sample-rate", path)

    def test_command_lines(self):
        self.refused(2, "which FILE...?")
        self.refused(2, "whole number of hertz", "a.vdif", "--sample-rate", "1.5")
        self.refused(2, "real or complex", "a.vdif", "--sampling", "both")
        self.refused(2, ".png", "a.vdif", "--plot", "a.jpg")


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=2)
