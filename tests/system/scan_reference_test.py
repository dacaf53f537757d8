# SPDX-License-Identifier: GPL-3.0-or-later
"""Every visibility against the independent correlation where samples are lost and scans begin
anywhere."""

import unittest
from dataclasses import replace
from fractions import Fraction

import numpy as np

import idi_files
import program
import reference
import times
from campaign import START, Recorded
from comparison import VISIBILITY_LIMIT, compare, hold_against_reference
from scene import (ALDER, BIRCH, CEDAR, COMPLEX, EARLY, LOWER, REAL, SECONDS, STATIONS, UPPER,
                   Scene, receiver, scan)


class Lost(Scene):
    """Samples that are not there."""

    def check(self, *options_of_stations, bits=2, **changes):
        made = self.campaign(STATIONS[:len(options_of_stations)], **changes)
        for station, options in zip(STATIONS, options_of_stations):
            kind = (COMPLEX, LOWER) if station is CEDAR else (REAL, UPPER)
            self.record(made, station, receiver(*kind), [self.wave(8)], bits, **options)
        return hold_against_reference(self, made)

    def test_missing_frames(self):
        for rotation in (reference.AFTER, reference.BEFORE):
            self.check({"missing": ((0, 2), (0, 5))}, {"missing": ((0, 3),)},
                       {"missing": ((0, 2), (0, 3))}, rotation=rotation,
                       correct_quantisation=True)

    def test_invalid_bit(self):
        self.check({"invalid": ((0, 1),)}, {"invalid": ((0, 4),), "missing": ((0, 2),)}, {})

    def test_late_start(self):
        self.check({"late_frames": {0: 3}}, {"late_frames": {0: 4}}, {})

    def test_recording_begins_after_the_scan_and_ends_before_it(self):
        made = self.campaign([ALDER, BIRCH, CEDAR])
        self.record(made, ALDER, receiver(REAL, UPPER), [self.wave(8)])
        self.record(made, BIRCH, receiver(REAL, UPPER), [self.wave(8)],
                    start=START + Fraction(16, 1000), seconds=Fraction(16, 1000))
        # Cedar's last whole frame ends within the first integration.
        self.record(made, CEDAR, receiver(COMPLEX, UPPER), [self.wave(8)],
                    seconds=Fraction(16, 1000))
        hold_against_reference(self, made)

    def test_small_frames_missing_here_and_there(self):
        """Frames of 160 samples, one in five lost: losses begin and end inside segments."""
        generator = np.random.default_rng(9)
        made = self.campaign([ALDER, BIRCH])
        for k, station in enumerate((ALDER, BIRCH)):
            tuned = receiver(REAL, UPPER)
            x = made.hear(generator, station, tuned, [self.wave(8)], 0.4, EARLY, SECONDS)
            lost = tuple((0, int(f)) for f in np.flatnonzero(generator.random(len(x) // 160)
                                                             < 0.2))
            made.record_vdif(station.name, [Recorded(tuned, x)], 2, 160, start=EARLY,
                             missing=lost)
        hold_against_reference(self, made)

    def test_one_polarization_lost(self):
        made = self.campaign([ALDER, BIRCH], products=("RR", "LL", "RL", "LR"))
        for k, station in enumerate((ALDER, BIRCH)):
            generator, streams = np.random.default_rng(k), []
            for thread, polarization in enumerate("RL"):
                tuned = receiver(REAL, UPPER)
                x = made.hear(generator, station, tuned, [self.wave(30 + thread)], 0.4, EARLY,
                              SECONDS)
                streams.append(Recorded(tuned, x, polarization, thread))
            lost = tuple((1, frame) for frame in range(8)) if k == 0 else ((1, 3),)
            if k == 0:
                lost = lost[2:]
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY, missing=lost)
        hold_against_reference(self, made)

    def test_one_station_has_one_polarization_only(self):
        made = self.campaign([ALDER, BIRCH], products=("RR", "LL", "RL", "LR"))
        for k, station in enumerate((ALDER, BIRCH)):
            generator, streams = np.random.default_rng(k), []
            for thread, polarization in enumerate("RL"[:k + 1]):
                tuned = receiver(REAL, UPPER)
                x = made.hear(generator, station, tuned, [self.wave(30 + thread)], 0.4, EARLY,
                              SECONDS)
                streams.append(Recorded(tuned, x, polarization, thread))
            made.record_vdif(station.name, streams, 2, 8000, start=EARLY)
        hold_against_reference(self, made)


class Scans(Scene):
    """When scans begin and who takes part."""

    def check(self, scans, start, seconds, stations=(ALDER, BIRCH, CEDAR), **changes):
        made = self.campaign(stations, scans=scans, **changes)
        for station in stations:
            kind = (COMPLEX, UPPER) if station is CEDAR else (REAL, UPPER)
            self.record(made, station, receiver(*kind),
                        [self.wave(10, start=start, seconds=seconds)], start=start,
                        seconds=seconds)
        hold_against_reference(self, made)

    def test_several_scans_and_sources(self):
        names = [s.name for s in (ALDER, BIRCH, CEDAR)]
        self.check([scan(names, START, Fraction(20, 1000)),
                    scan(names[1:], START + Fraction(30, 1000), Fraction(16, 1000), "Willow"),
                    scan(names, START + Fraction(50, 1000), Fraction(17, 1000)),
                    scan([names[0], names[2]], START + Fraction(70, 1000), Fraction(7, 1000),
                         "Willow")], EARLY, Fraction(96, 1000))

    def test_scans_hours_apart_in_one_recording(self):
        """Three scans, three hours from one to the next, 7 frames or 350 of each; in a file each,
        and all in one file."""
        stations = [replace(ALDER, delay_s=(3.123469e-3, 1.0e-7)),
                    replace(BIRCH, delay_s=(-1.700213e-3, -1.0e-7))]
        names, kinds = [s.name for s in stations], ((REAL, UPPER), (COMPLEX, LOWER))
        for per_frame_ms, n_files in ((Fraction(8), 3), (Fraction(8), 1),
                                      (Fraction(16, 100), 3), (Fraction(16, 100), 1)):
            parts, rows = [], []
            for k in range(3):
                begin = START + 10800 * k
                part = self.campaign(stations, scans=[scan(names, begin, Fraction(24, 1000))])
                part.folder = self.folder / f"{k}"
                part.folder.mkdir(exist_ok=True)
                for station, kind in zip(stations, kinds):
                    tuned = receiver(*kind)
                    start = begin - Fraction(24, 1000)
                    x = self.hear(part, k, station, tuned, [], 0.0, start, Fraction(56, 1000))
                    part.record_vdif(station.name, [Recorded(tuned, x)], 2,
                                     int(tuned.sample_rate_hz * per_frame_ms / 1000), start=start)
                parts.append(part)
                rows += [replace(row, scan=k) for row in reference.correlate(part.setup())]
            made = self.campaign(stations, scans=[part.scans[0] for part in parts])
            made.streams, made.table_step_s = parts[0].streams, 60
            for k in range(len(names)):
                files = [f"{n}/{part.recordings[k]['files'][0]}" for n, part in enumerate(parts)]
                if n_files == 1:
                    whole = self.folder / f"{names[k]}.vdif"
                    whole.write_bytes(b"".join((self.folder / f).read_bytes() for f in files))
                    files = [whole.name]
                made.recordings.append({**parts[0].recordings[k], "files": files})
            self.correlate(made.write(), self.folder / "out.fits")
            compare(self, made, idi_files.read(self.folder / "out.fits"), rows, VISIBILITY_LIMIT)

    def test_over_a_second(self):
        begin = START + Fraction(980, 1000)
        self.check([scan(["Alder", "Birch", "Cedar"], begin)], begin - Fraction(12, 1000),
                   Fraction(72, 1000))

    def test_start_between_samples(self):
        begin = START + Fraction(31415927, 10**10)
        self.check([scan(["Alder", "Birch", "Cedar"], begin)], EARLY, SECONDS)

    def test_scan_that_is_not_a_whole_number_of_segments(self):
        self.check([scan(["Alder", "Birch", "Cedar"], seconds=Fraction(33377, 10**6))], EARLY,
                   SECONDS)

    def test_through_a_leap_second(self):
        # 2016-12-31 ended with 23:59:60 (IERS Bulletin C 52).
        epoch = times.parse("2016-12-31T23:59:59")
        for offset in (Fraction(980, 1000), Fraction(1980, 1000)):
            begin = epoch + offset
            start, seconds = begin - Fraction(12, 1000), Fraction(72, 1000)
            made = self.campaign([ALDER, BIRCH], epoch=epoch,
                                 scans=[scan(["Alder", "Birch"], begin)])
            for station in (ALDER, BIRCH):
                self.record(made, station, receiver(REAL, UPPER),
                            [self.wave(11, start=start, seconds=seconds)], start=start,
                            seconds=seconds)
            hold_against_reference(self, made)


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
