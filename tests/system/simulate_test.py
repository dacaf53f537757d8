# SPDX-License-Identifier: GPL-3.0-or-later
"""Simulated skies: the program's recordings judged by the independent correlation, and its whole
path, delay model included, by theory. Seeds are fixed; limits allow a false alarm below 1e-6."""

import unittest
from fractions import Fraction

import numpy as np
from scipy.stats import chi2

import fringe
import idi_files
import jobs
import program
import reference
import signals
import times
import vdif_files
from campaign import START, Station

LOW_HZ, WIDTH_HZ = 8400.0e6, 1.0e6
N_CHANNELS = 64
CHANNEL_HZ = WIDTH_HZ / N_CHANNELS
INNER = slice(4, -4)  # the outer channels lose what the Doppler shift moves out of the band
SIGMAS = 5.5
FALSE_ALARM = 1.0e-7
MAS = np.pi / 180 / 3600e3
# Invented positions on the Earth's surface, and a source above their horizon on the day.
POSITIONS_M = {"Alder": [3349894.9596, -841435.4546, 5344072.8723],
               "Birch": [4244305.4255, -2420909.0732, 4087019.7820],
               "Cedar": [-1349805.3958, -4834459.6792, 3923408.3871],
               "Damson": [4223705.3872, -3723697.1980, 2986426.8837]}
SOURCE = {"name": "Ousel", "right_ascension_hms": "18:56:12.345678",
          "declination_dms": "+40:00:34.56789"}
CLOCKS_S = {"Alder": 1.25e-6, "Birch": -3.4e-6, "Cedar": 7.8e-6, "Damson": 0.0}
# Station, real or complex, sideband, bits.
KINDS = (("Alder", False, 1, 2), ("Birch", False, -1, 1), ("Cedar", True, 1, 4),
         ("Damson", True, -1, 8))


def recording(name, is_complex, sideband, bits):
    stream = {"polarization": "R", "sideband": "upper" if sideband > 0 else "lower"}
    if is_complex:
        stream["centre_hz"] = LOW_HZ + WIDTH_HZ / 2
    else:
        stream["edge_hz"] = LOW_HZ if sideband > 0 else LOW_HZ + WIDTH_HZ
    return {"station": name, "files": [f"{name.lower()}.vdif"], "bits": bits,
            "sample_rate_hz": int(WIDTH_HZ if is_complex else 2 * WIDTH_HZ),
            "sampling": "complex" if is_complex else "real", "streams": [stream]}


def sky(starts, duration_s, integration_s, components, kinds=KINDS, **parts):
    """A sky file of nested dictionaries."""
    return {
        "campaign": "Forest-7",
        "stations": [{"name": name, "position_itrf_m": POSITIONS_M[name],
                      "clock": {"reference": times.text(START), "ahead_s": CLOCKS_S[name],
                                "rate_s_per_s": 1.0e-12}} for name, *_ in kinds],
        "sources": [SOURCE],
        "scans": [{"name": f"S{k + 1}", "source": "Ousel", "start": times.text(start),
                   "duration_s": float(duration_s)} for k, start in enumerate(starts)],
        "bands": [{"name": "low", "edge_hz": LOW_HZ, "bandwidth_hz": WIDTH_HZ,
                   "sideband": "upper"}],
        "recordings": [recording(*kind) for kind in kinds],
        "correlation": {"channels": N_CHANNELS, "integration_s": float(integration_s)},
        "earth_orientation": jobs.earth_orientation_days(START),
        "sky": {"seed": 11, "components": [{"source": "Ousel", **c} for c in components], **parts},
    }


class Simulate(program.SystemTest):
    def simulate(self, described):
        jobs.write(self.folder / "sky.yaml", described)
        done = program.run("simulate", self.folder / "sky.yaml", "-o", self.folder / "made")
        self.assertEqual(done.code, 0, done.err)
        return self.folder / "made"

    def correlated(self, described):
        made = self.simulate(described)
        self.correlate(made / "job.yaml", made / "out.fits")
        return idi_files.read(made / "out.fits")

    def check_chi_square(self, what, parts, sigma):
        total, n = float(np.sum((parts / sigma) ** 2)), parts.size
        low, high = chi2.ppf(FALSE_ALARM / 2, n), chi2.isf(FALSE_ALARM / 2, n)
        print(f"{what}: chi-square {total:.1f} of {n}, allowed {low:.1f} to {high:.1f}",
              flush=True)
        self.assertTrue(low < total < high, f"{what}: chi-square {total:.1f}")

    def check_coefficient(self, what, visibility, n_segments, rho, losses):
        """rho: of the sky. losses: the factor on it."""
        for v in visibility:
            sigma = np.sqrt(0.5 / n_segments)
            self.check_chi_square(what, np.concatenate([v.real - rho * losses, v.imag]), sigma)
            for part, want in ((np.mean(v.real), rho * losses), (np.mean(v.imag), 0.0)):
                self.check_near(f"{what}: mean", part, want, SIGMAS * sigma / np.sqrt(v.size))


def misaligned(a_complex, b_complex):
    """Loss to windows that begin up to half a sample off at each station: a mean of 1/3 of a
    sample between two alike, 13/48 between samples of 1 and 1/2."""
    if a_complex != b_complex:
        return 1.0 - 13.0 / 48.0 / N_CHANNELS
    return 1.0 - 1.0 / 3.0 / (N_CHANNELS * (1 if a_complex else 2))


class Coefficient(Simulate):
    RHO = 0.1

    def test_every_kind_of_recording_has_the_coefficient_of_the_sky(self):
        """3125 segments, four kinds of recordings, the whole delay model and clocks."""
        seconds = Fraction(3125) / Fraction(CHANNEL_HZ)
        file = self.correlated(sky([START], seconds, seconds, [{"correlation": self.RHO}]))
        for i, a in enumerate(KINDS):
            for b in KINDS[i + 1:]:
                # Quantised to 1 and 2 bits the noise is 1/sqrt(eta_i eta_j) larger when corrected.
                etas = {1: 0.636620, 2: 0.882518, 4: 0.988457, 8: 0.999912}
                eta = np.sqrt(etas[a[3]] * etas[b[3]])
                v = file.visibility[file.rows(a[0], b[0]), 0, INNER, 0] * eta
                self.check_coefficient(f"{a[0]}-{b[0]}", v, 3125, self.RHO * eta,
                                       misaligned(a[1], b[1]))

    def test_independent_correlation_finds_the_same(self):
        """Simulated with delay tables, read and correlated by the outsider's tools alone."""
        seconds = Fraction(3125) / Fraction(CHANNEL_HZ)
        described = sky([START], seconds, seconds, [{"correlation": self.RHO}])
        stations = [Station(name, (2e-3 * (k - 1.4), 1e-6 * (k - 1.6)), CLOCKS_S[name], 1.0e-12)
                    for k, (name, *_) in enumerate(KINDS)]
        for entry, station in zip(described["stations"], stations):
            curve = signals.polynomial(station.delay_s)
            table = self.folder / f"{station.name}.txt"
            jobs.write_delay_table(table, lambda t, c=curve: c(np.longdouble(float(t - START))),
                                   START - 10, START + 10)
            entry["delay_table"] = str(table)
        made = self.simulate(described)
        streams = [self.read(made / f"{kind[0].lower()}.vdif", kind) for kind in KINDS]
        names = tuple(kind[0] for kind in KINDS)
        setup = reference.Setup(
            stations=names, bands=[reference.Band(LOW_HZ, WIDTH_HZ)],
            scans=[reference.Scan(START, seconds, names)], streams=streams,
            n_channels=N_CHANNELS, integration_s=seconds, products=(("R", "R"),),
            tau={s.name: s.tau for s in stations}, epoch=START, rotation=reference.BEFORE)
        kinds = {kind[0]: kind for kind in KINDS}
        for row in reference.correlate(setup):
            self.assertEqual(row.weight[0, 0], 1.0)
            if row.i == row.j:
                continue
            a, b = kinds[row.i], kinds[row.j]
            etas = {1: 0.636620, 2: 0.882518, 4: 0.988457, 8: 0.999912}
            eta = np.sqrt(etas[a[3]] * etas[b[3]])
            self.check_coefficient(f"outsider's {row.i}-{row.j}",
                                   [row.visibility[0, INNER, 0]], 3125, self.RHO * eta,
                                   misaligned(a[1], b[1]))

    def read(self, path, kind):
        """A recording of one stream as the reference wants it."""
        name, is_complex, sideband, bits = kind
        frames = vdif_files.read(path)
        self.assertTrue(all(f.bits == bits and f.is_complex == is_complex and not f.invalid
                            and f.n_channels == 1 for f in frames))
        rate = int(WIDTH_HZ if is_complex else 2 * WIDTH_HZ)
        per_second = Fraction(rate, len(frames[0].codes))
        _, epoch = vdif_files.reference_epoch(START)
        self.assertEqual(len({f.epoch for f in frames}), 1)
        numbers = [f.second * per_second + f.number for f in frames]
        self.assertEqual(numbers, [numbers[0] + k for k in range(len(numbers))])
        codes = np.concatenate([f.codes for f in frames])[:, 0]
        zero = LOW_HZ + WIDTH_HZ / 2 if is_complex else (
            LOW_HZ if sideband > 0 else LOW_HZ + WIDTH_HZ)
        return reference.Stream(
            station=name, polarization="R", zero_hz=zero, sideband=sideband,
            is_complex=is_complex, sample_rate_hz=rate, origin=epoch + numbers[0] / per_second,
            x=vdif_files.decode(codes, bits, is_complex), valid=np.ones(len(codes), dtype=bool),
            bits=bits)


class Sky(Simulate):
    def test_source_off_the_centre_is_imaged_at_its_place(self):
        """Three instants of four stations; 9 mas east, 5 mas north. The beam is some 2 mas wide."""
        rho, seconds = 0.3, Fraction(1024, 10000)
        file = self.correlated(sky([START - 10800, START, START + 10800], seconds, seconds,
                                   [{"correlation": rho, "east_arcsec": 0.009,
                                     "north_arcsec": 0.005}]))
        axis = np.arange(-12.0, 12.01, 0.25)
        l, m = np.meshgrid(axis * MAS, axis * MAS, indexing="ij")
        map_, rows = np.zeros(l.shape), np.flatnonzero(file.i != file.j)
        self.assertEqual(len(rows), 18)
        middle = np.mean(file.channel_hz[0, INNER])
        for row in rows:
            u, v, _ = file.uvw_s[row]
            value = np.mean(file.visibility[row, 0, INNER, 0])
            map_ += np.real(value * np.exp(-2j * np.pi * middle * (u * l + v * m))) / len(rows)
        east, north = np.unravel_index(np.argmax(map_), map_.shape)
        print(f"peak {map_.max():.4f} at {axis[east]}, {axis[north]} mas", flush=True)
        self.check_near("east", axis[east], 9.0, 0.375, "mas")
        self.check_near("north", axis[north], 5.0, 0.375, "mas")
        # 1 bit at rho 0.3 reads 1.5 % more than its small-signal efficiency; misaligned windows
        # lose 0.5 %; the map's noise is 1/sqrt(2 B t 18) = 5e-4 over the etas.
        self.check_near("coefficient", map_.max(), rho, 0.03 * rho)

    def test_clock_errors_come_out_with_their_sign(self):
        """True minus model: the delay of a station whose clock is more ahead than the job says is
        larger by that."""
        errors = {"Birch": (120e-9, 0.0), "Cedar": (-60e-9, 4e-11)}
        rho, segments, n = 0.3, 125, 25
        integration = Fraction(segments) / Fraction(CHANNEL_HZ)
        file = self.correlated(sky(
            [START], n * integration, integration, [{"correlation": rho}], kinds=KINDS[:3],
            clock_errors=[{"station": name, "ahead_s": ahead, "rate_s_per_s": rate}
                          for name, (ahead, rate) in errors.items()]))
        errors["Alder"] = (0.0, 0.0)
        etas = {"Alder": 0.882518, "Birch": 0.636620, "Cedar": 0.988457}
        for i, j in (("Alder", "Birch"), ("Alder", "Cedar"), ("Birch", "Cedar")):
            rows = file.rows(i, j)
            time = np.array([float(file.middle[k] - START) for k in rows])
            (delay, delay_error), (rate, rate_error) = fringe.fit(
                time, file.channel_hz[0, INNER], file.visibility[rows, 0, INNER, 0], rho,
                np.sqrt(0.5 / segments / (etas[i] * etas[j])))
            want = errors[i][1] - errors[j][1]
            at_middle = errors[i][0] - errors[j][0] + want * float(n * integration) / 2
            print(f"{i}-{j}: delay {delay:.3e} +- {delay_error:.1e} s, rate {rate:.3e} +- "
                  f"{rate_error:.1e}", flush=True)
            self.check_near("delay", delay, at_middle, SIGMAS * delay_error, "s")
            self.check_near("rate", rate, want, SIGMAS * rate_error, "s/s")


if __name__ == "__main__":
    program.scratch()
    unittest.main(verbosity=1)
