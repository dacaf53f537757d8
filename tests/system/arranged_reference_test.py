# SPDX-License-Identifier: GPL-3.0-or-later
"""Every visibility against the independent correlation in other arrangements: many stations,
clocks that are seconds off, threads of different kinds."""

import unittest
from dataclasses import replace
from fractions import Fraction

import numpy as np

import idi_files
import jobs
import program
import reference
import times
import vdif_files
from campaign import POSITIONS_M, START, Recorded, Station
from comparison import VISIBILITY_LIMIT, compare, hold_against_reference
from scene import (ALDER, BIRCH, CEDAR, COMPLEX, EARLY, LOWER, REAL, SECONDS, UPPER, Scene,
                   receiver, scan)


class Stations(Scene):
    def record_pair(self, made, station, bits, polarizations="RL", kind=(REAL, UPPER),
                    start=EARLY):
        """Both polarizations in two threads, a wave in each."""
        tuned = receiver(*kind)
        streams = [Recorded(tuned, self.hear(made, sum(map(ord, station.name + p)), station, tuned,
                                             [self.wave(30 + "RL".index(p))], 0.3, start, SECONDS),
                            p, thread) for thread, p in enumerate(polarizations)]
        made.record_vdif(station.name, streams, bits, tuned.sample_rate_hz // 125, start=start)

    def test_nine_stations_in_two_polarizations(self):
        """45 baselines with 4 products each, 17 channels: whatever tiles are made of streams and
        channels, some are left over."""
        stations = [Station(name, (1e-4 * k - 3e-4, 2e-7 * k - 1e-6), 1e-7 * k)
                    for k, name in enumerate(POSITIONS_M)]
        seconds = Fraction(34, 1000)  # of 500 kHz / 17: 1000 segments
        for n_stations in (9, 5):
            made = self.campaign(stations[:n_stations], n_channels=17, integration_s=seconds,
                                 scans=[scan([s.name for s in stations[:n_stations]],
                                             seconds=seconds)],
                                 products=("RR", "LL", "RL", "LR"), rotation="before_fft",
                                 correct_quantisation=True)
            for k, station in enumerate(made.stations):
                self.record_pair(made, station, (1, 2, 4)[k % 3], kind=((REAL, UPPER),
                                                                        (COMPLEX, LOWER))[k % 2])
            hold_against_reference(self, made)

    def test_stretches_of_products(self):
        for products in (("LL", "RL"), ("RL",), ("LR",), ("LL",), ("RL", "LR")):
            made = self.campaign([ALDER, BIRCH], products=products)
            for station in (ALDER, BIRCH):
                self.record_pair(made, station, 2)
            hold_against_reference(self, made)

    def test_polarizations_that_are_not_the_same_at_both(self):
        made = self.campaign([ALDER, BIRCH, CEDAR], products=("RR", "LL", "RL", "LR"))
        for station, polarizations in ((ALDER, "R"), (BIRCH, "L"), (CEDAR, "LR")):
            self.record_pair(made, station, 2, polarizations)
        hold_against_reference(self, made)

    def test_station_that_takes_no_part(self):
        """Cedar is in the job and was recorded, and is in no scan."""
        made = self.campaign([ALDER, BIRCH, CEDAR], scans=[scan(["Alder", "Birch"])])
        for station in (ALDER, BIRCH, CEDAR):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(8)])
        hold_against_reference(self, made)

    def test_single_station(self):
        made = self.campaign([ALDER])
        self.record(made, ALDER, receiver(REAL, UPPER), [self.wave(8)])
        hold_against_reference(self, made)


class Times(Scene):
    def record_late(self, made, station, late_s):
        """A recording whose tags are late_s late, as a clock that is ahead writes them."""
        start = EARLY + late_s
        self.record(made, station, receiver(REAL, UPPER), [], start=start)

    def test_clock_that_is_seconds_ahead(self):
        """A recorder set wrong by whole seconds: the job's clock says so, and all is well. A delay
        of 2 s has steps of 4e-16 s as a double, 2e-5 rad: with coefficients of 0.1, 2e-6 each."""
        for seconds in (2, -3):
            stations = [replace(ALDER, ahead_s=float(seconds) + 2.0e-6), BIRCH]
            made = self.campaign(stations)
            self.record_late(made, stations[0], seconds)
            self.record_late(made, BIRCH, 0)
            hold_against_reference(self, made, limit=6.0e-6)

    def test_clock_term_switched_off(self):
        made = self.campaign([ALDER, BIRCH])
        for station in (ALDER, BIRCH):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(8)])
        made.extra["delay_terms"] = {"clock": False}
        self.correlate(made.write(), self.folder / "out.fits")
        made.stations = [replace(s, ahead_s=0.0, clock_rate=0.0) for s in made.stations]
        compare(self, made, idi_files.read(self.folder / "out.fits"),
                reference.correlate(made.setup()), VISIBILITY_LIMIT)

    def test_clock_reference_long_ago(self):
        """The clock's rate is counted from eleven years before: 3.5e8 s, of which a rate of 1e-12
        makes 0.35 ms, in doubles to 5e-20 s."""
        seconds, rate = 347_155_200, 1.0e-12
        station = replace(BIRCH, ahead_s=seconds * rate, clock_rate=rate)
        made = self.campaign([ALDER, station])
        for each in (ALDER, station):
            self.record(made, each, receiver(REAL, UPPER), [self.wave(8)])
        job = made.job()
        job["stations"][1]["clock"] = {"reference": times.text(START - seconds), "ahead_s": 0.0,
                                       "rate_s_per_s": rate}
        jobs.write(self.folder / "long_ago.yaml", job)
        self.correlate(self.folder / "long_ago.yaml", self.folder / "out.fits")
        compare(self, made, idi_files.read(self.folder / "out.fits"),
                reference.correlate(made.setup()), VISIBILITY_LIMIT)

    def test_integration_longer_than_the_scan(self):
        made = self.campaign([ALDER, BIRCH], integration_s=Fraction(1))
        for station in (ALDER, BIRCH):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(8)])
        hold_against_reference(self, made)

    def test_one_scan_of_several(self):
        names = ("Alder", "Birch")
        scans = [scan(names, START + k * Fraction(8, 1000), Fraction(8, 1000), source)
                 for k, source in enumerate(("Ousel", "Willow", "Ousel"))]
        made = self.campaign([ALDER, BIRCH], scans=scans, integration_s=Fraction(8, 1000))
        for station in (ALDER, BIRCH):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(8)])
        self.correlate(made.write(), self.folder / "out.fits", "--scan", "S02")
        rows = [row for row in reference.correlate(made.setup()) if row.scan == 1]
        compare(self, made, idi_files.read(self.folder / "out.fits"), rows, VISIBILITY_LIMIT)


class Files(Scene):
    def test_threads_of_different_kinds_in_one_file(self):
        """Frames of one length, in thread 0 of 8000 samples of 2 bits, in thread 1 of 4000 of 4
        bits and half as long."""
        made = self.campaign([ALDER, BIRCH], products=("RR", "LL", "RL", "LR"))
        for station in (ALDER, BIRCH):
            files, streams = [], []
            for thread, (polarization, bits) in enumerate((("R", 2), ("L", 4))):
                tuned = receiver(REAL, UPPER)
                x = self.hear(made, thread, station, tuned, [self.wave(30 + thread)], 0.3, EARLY,
                              SECONDS)
                made.record_vdif(station.name, [Recorded(tuned, x, polarization, thread)], bits,
                                 16000 // bits, start=EARLY)
                recording = made.recordings.pop()
                files.append(recording["files"][0])
                streams += recording["streams"]
                (self.folder / files[-1]).rename(self.folder / f"{thread}.part")
            merged = self.folder / f"{station.name}.vdif"
            merged.write_bytes(self.interleaved(16000 * 2 // 8 // 2 + 32))
            made.recordings.append({**recording, "files": [merged.name], "streams": streams})
        hold_against_reference(self, made)

    def interleaved(self, frame_bytes):
        """The frames of both parts in order of time: one of thread 0, two of thread 1."""
        parts = [(self.folder / f"{thread}.part").read_bytes() for thread in (0, 1)]
        cut = [[part[k:k + frame_bytes] for k in range(0, len(part), frame_bytes)]
               for part in parts]
        self.assertEqual(2 * len(cut[0]), len(cut[1]))
        return b"".join(a + cut[1][2 * k] + cut[1][2 * k + 1] for k, a in enumerate(cut[0]))

    def test_file_cut_short_within_a_frame(self):
        made = self.campaign([ALDER, BIRCH])
        for station in (ALDER, BIRCH):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(8)])
        path = self.folder / made.recordings[1]["files"][0]
        path.write_bytes(path.read_bytes()[:-3000])  # one frame of 2032 bytes and part of another
        made.streams[1].valid[-16000:] = False
        hold_against_reference(self, made)

    def test_fill_in_place_of_data(self):
        """Recorders write 0x11223344 where data were lost: under a good header, and over a whole
        frame with the invalid bit."""
        made = self.campaign([ALDER, BIRCH])
        for station in (ALDER, BIRCH):
            self.record(made, station, receiver(REAL, UPPER), [self.wave(8)])
        path = self.folder / made.recordings[0]["files"][0]
        data, frame_bytes = bytearray(path.read_bytes()), 2032
        fill = (0x11223344).to_bytes(4, "little")
        data[2 * frame_bytes + 32:3 * frame_bytes] = fill * 500
        head = np.frombuffer(bytes(data[4 * frame_bytes:4 * frame_bytes + 16]), dtype="<u4")
        filled = np.array([vdif_files.INVALID, 0, head[2], 0], dtype="<u4").tobytes()
        data[4 * frame_bytes:5 * frame_bytes] = filled + fill * (frame_bytes // 4 - 4)
        path.write_bytes(data)
        for frame in (2, 4):
            made.streams[0].valid[frame * 8000:(frame + 1) * 8000] = False
        hold_against_reference(self, made)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
