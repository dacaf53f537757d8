# SPDX-License-Identifier: GPL-3.0-or-later
"""An invented campaign, described once: its recordings and job file are written for the program,
and the same samples and delays handed to the reference."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

import jobs
import reference
import signals
import sound_files
import times
import vdif_files

START = times.parse("2026-03-01T12:00:00")
SOURCE = {"right_ascension_deg": 151.25, "declination_deg": 31.5}
POSITIONS_M = {"Alder": [3900000.0, 800000.0, 4970000.0],
               "Birch": [3300000.0, -1200000.0, 5300000.0],
               "Cedar": [4200000.0, 1900000.0, 4390000.0],
               "Damson": [3600000.0, 100000.0, 5240000.0],
               "Elder": [3750000.0, -700000.0, 5100000.0],
               "Fir": [4400000.0, -900000.0, 4520000.0],
               "Hazel": [3200000.0, 1500000.0, 5300000.0],
               "Juniper": [4000000.0, -2100000.0, 4480000.0],
               "Larch": [4600000.0, 300000.0, 4400000.0]}


@dataclass
class Station:
    """delay_s: coefficients in seconds since the campaign's epoch, of the delay without the clock.
    The clock is ahead_s at the epoch."""

    name: str
    delay_s: tuple
    ahead_s: float = 0.0
    clock_rate: float = 0.0

    def tau(self, t):
        """Delay and rate with the clock; t in longdouble seconds since the epoch.

        The clock is read when the wave arrives, at t + tau: ahead + rate (t + tau)."""
        terms = list(self.delay_s)
        terms += [0.0] * (2 - len(terms))
        terms = [np.longdouble(c) for c in terms]
        terms = [c * (1 + np.longdouble(self.clock_rate)) for c in terms]
        terms[0] += np.longdouble(self.ahead_s)
        terms[1] += np.longdouble(self.clock_rate)
        rates = [k * c for k, c in enumerate(terms)][1:]
        return signals.polynomial(terms)(t), signals.polynomial(rates)(t)


@dataclass
class Recorded:
    """One stream of a recording. band: name of the job's band it is tied to, or None: then its
    own edge or centre is stated, as `anchor` says; if that is empty the edge of a real stream and
    the centre of a complex one."""

    receiver: signals.Receiver
    x: np.ndarray
    polarization: str = "R"
    thread: int = 0
    channel: int = 0
    band: str = None
    anchor: str = ""

    def anchor_hz(self):
        receiver = self.receiver
        kind = self.anchor or ("centre" if receiver.is_complex else "edge")
        if kind == "centre":
            return "centre_hz", receiver.centre_hz()
        return "edge_hz", receiver.centre_hz() - receiver.sideband * receiver.bandwidth_hz() / 2

    def entry(self, with_thread):
        entry = {"polarization": self.polarization}
        if self.band is not None:
            entry["band"] = self.band
        else:
            key, value = self.anchor_hz()
            entry[key] = value
            entry["sideband"] = "upper" if self.receiver.sideband > 0 else "lower"
        if with_thread:
            entry["thread"] = self.thread
        entry["channel"] = self.channel
        return entry


class Campaign:
    def __init__(self, folder, stations, bands, scans, *, n_channels, integration_s, products=None,
                 rotation="after_fft", correct_quantisation=False, epoch=START):
        """bands: name -> reference.Band; scans: reference.Scan; products: ("RR", ...) or None for
        what the program takes by default, which then is given by the streams."""
        self.folder, self.epoch = folder, epoch
        self.stations, self.bands, self.scans = stations, bands, scans
        self.n_channels, self.integration_s = n_channels, Fraction(integration_s)
        self.products, self.rotation = products, rotation
        self.correct_quantisation = correct_quantisation
        self.recordings, self.streams = [], []
        self.extra = {}
        self.table_step_s = 1

    def hear(self, generator, station, receiver, waves, density, start, seconds):
        """What a station's receiver records of the waves: samples of unit power from tag `start`
        on. Each wave has the same spectral density against the whole; they must not overlap."""
        since = np.longdouble(float(start - self.epoch))

        def tau(t):
            return station.tau(t + since)[0]

        n = int(Fraction(seconds) * receiver.sample_rate_hz)
        parts = [signals.Part(wave, tau, density) for wave in waves if receiver.holds(wave)]
        return signals.station_signal(generator, receiver, parts, 1.0 - density, start, n)

    def _keep(self, station, recorded, start, valid, x, bits):
        receiver = recorded.receiver
        self.streams.append(reference.Stream(
            station=station, polarization=recorded.polarization, zero_hz=receiver.zero_hz,
            sideband=receiver.sideband, is_complex=receiver.is_complex,
            sample_rate_hz=receiver.sample_rate_hz, origin=start, x=x, valid=valid, bits=bits))

    def record_vdif(self, station, streams, bits, samples_per_frame, *, start=None, missing=(),
                    invalid=(), parts=1, late_frames=None, order=None, legacy=False):
        """Quantise and write streams (all of one kind) to one recording.

        start: tag of the first sample, on a frame; the epoch if not given. missing, invalid:
        (thread, frame number counted from `start`). parts: number of files. late_frames: thread
        -> frames by which it starts late (those before are dropped).
        """
        start = self.epoch if start is None else start
        first = streams[0].receiver
        late_frames = late_frames or {}
        n_samples = len(streams[0].x)
        n_frames = n_samples // samples_per_frame
        threads = {}
        for recorded in streams:
            threads.setdefault(recorded.thread, {})[recorded.channel] = recorded
        layout = vdif_files.Layout(
            start=start, sample_rate_hz=first.sample_rate_hz, bits=bits,
            is_complex=first.is_complex, samples_per_frame=samples_per_frame, legacy=legacy,
            station=0x416C)
        entries = []
        for number, channels in threads.items():
            ordered = [channels[c] for c in sorted(channels)]
            codes = np.stack([vdif_files.quantise(r.x, bits) for r in ordered], axis=1)
            lost = {f for t, f in missing if t == number} | set(range(late_frames.get(number, 0)))
            bad = {f for t, f in invalid if t == number}
            thread = vdif_files.Thread(codes, number, tuple(lost), tuple(bad))
            entries += [(index, number, data)
                        for index, data in vdif_files.frames(layout, thread)]
            valid = np.ones(n_samples, dtype=bool)
            for frame in lost | bad:
                valid[frame * samples_per_frame:(frame + 1) * samples_per_frame] = False
            for place, recorded in enumerate(ordered):
                self._keep(station, recorded, start, valid,
                           vdif_files.decode(codes[:, place], bits, first.is_complex), bits)
        entries.sort(key=lambda entry: entry[:2])
        if order is not None:
            entries = order(entries)
        files = []
        for part in range(parts):
            low, high = part * n_frames // parts, (part + 1) * n_frames // parts
            name = f"{station.lower()}_{len(self.recordings)}_{part}.vdif"
            with open(self.folder / name, "wb") as file:
                file.write(b"".join(data for index, _, data in entries if low <= index < high))
            files.append(name)
        self.recordings.append({
            "station": station, "files": files, "format": "vdif",
            "sample_rate_hz": first.sample_rate_hz,
            "streams": [recorded.entry(True) for recorded in streams]})

    def record_sound(self, station, streams, *, start=None, kind="WAV", subtype="PCM_16",
                     full_scale_sigma=8.0):
        """Write streams (all of one kind) to one sound file."""
        start = self.epoch if start is None else start
        receiver = streams[0].receiver
        name = f"{station.lower()}_{len(self.recordings)}.{sound_files.SUFFIX[kind]}"
        held = sound_files.write(self.folder / name, [r.x for r in streams],
                                 receiver.sample_rate_hz, kind=kind, subtype=subtype,
                                 full_scale_sigma=full_scale_sigma)
        for recorded, x in zip(streams, held):
            self._keep(station, recorded, start, np.ones(len(x), dtype=bool), x, 0)
        self.recordings.append({
            "station": station, "files": [name],
            "sampling": "complex" if receiver.is_complex else "real",
            "sample_rate_hz": receiver.sample_rate_hz, "start": times.text(start),
            "streams": [recorded.entry(False) for recorded in streams]})

    def job(self):
        """The job as nested dictionaries; the delay tables are written beside it."""
        stop = max(scan.start + Fraction(scan.duration_s) for scan in self.scans)
        stations = []
        for station in self.stations:
            table = f"{station.name.lower()}_delay.txt"
            curve = signals.polynomial(station.delay_s)
            jobs.write_delay_table(
                self.folder / table,
                lambda t, curve=curve: curve(np.longdouble(float(t - self.epoch))),
                self.scans[0].start.__floor__() - 10, stop.__ceil__() + 10, self.table_step_s)
            entry = {"name": station.name, "position_itrf_m": POSITIONS_M[station.name],
                     "delay_table": table}
            if station.ahead_s or station.clock_rate:
                entry["clock"] = {"reference": times.text(self.epoch), "ahead_s": station.ahead_s,
                                  "rate_s_per_s": station.clock_rate}
            stations.append(entry)
        sources = sorted({scan.source for scan in self.scans})
        correlation = {"channels": self.n_channels, "integration_s": float(self.integration_s),
                       "fringe_rotation": self.rotation,
                       "quantisation_correction": self.correct_quantisation}
        if self.products is not None:
            correlation["polarization_products"] = list(self.products)
        job = {
            "campaign": "Forest-7",
            "stations": stations,
            "sources": [{"name": name, **SOURCE} for name in sources],
            "scans": [{"name": f"S{k + 1:02d}", "source": scan.source,
                       "start": times.text(scan.start), "duration_s": float(scan.duration_s),
                       "stations": list(scan.stations)} for k, scan in enumerate(self.scans)],
            "bands": [{"name": name, "edge_hz": band.edge_hz, "bandwidth_hz": band.bandwidth_hz,
                       "sideband": "upper" if band.sideband > 0 else "lower"}
                      for name, band in self.bands.items()],
            "recordings": self.recordings,
            "correlation": correlation,
            "earth_orientation": jobs.earth_orientation_days(self.epoch),
        }
        job.update(self.extra)
        return job

    def write(self, name="job.yaml"):
        path = self.folder / name
        jobs.write(path, self.job())
        return path

    def setup(self):
        products = self.products or sorted({s.polarization * 2 for s in self.streams},
                                           key="RR LL XX YY".split().index)
        return reference.Setup(
            stations=tuple(s.name for s in self.stations), bands=list(self.bands.values()),
            scans=self.scans, streams=self.streams, n_channels=self.n_channels,
            integration_s=self.integration_s, products=tuple(tuple(p) for p in products),
            tau={s.name: s.tau for s in self.stations}, epoch=self.epoch,
            rotation=self.rotation, correct_quantisation=self.correct_quantisation)
