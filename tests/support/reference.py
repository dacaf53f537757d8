# SPDX-License-Identifier: GPL-3.0-or-later
"""The correlation as it is defined, in double precision, slow and plain.

Every stream is cut into segments of 1 / channel width of geocentre time, each segment is taken
from the nearest sample, transformed, turned by the phase that whole samples and the receiver's
zero frequency left behind, and multiplied with the other streams' segments.
"""

from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from scipy import fft, optimize
from scipy.stats import norm

AFTER, BEFORE = "after_fft", "before_fft"


@dataclass
class Stream:
    """A recorded stream: samples x[k] were taken at tag origin + k / sample_rate_hz."""

    station: str
    polarization: str
    zero_hz: float
    sideband: int
    is_complex: bool
    sample_rate_hz: int
    origin: Fraction
    x: np.ndarray
    valid: np.ndarray
    bits: int = 0  # of each component; 0: efficiency 1 (floats, fine steps)

    def width_hz(self):
        return Fraction(self.sample_rate_hz, 1 if self.is_complex else 2)

    def own_range_hz(self):
        """Lowest and highest sky frequency of the recorded band."""
        zero = Fraction(self.zero_hz)
        if self.is_complex:
            return zero - self.width_hz() / 2, zero + self.width_hz() / 2
        ends = (zero, zero + self.sideband * self.width_hz())
        return min(ends), max(ends)


@dataclass
class Band:
    edge_hz: float
    bandwidth_hz: float
    sideband: int = 1


@dataclass
class Scan:
    start: Fraction
    duration_s: Fraction
    stations: tuple
    source: str = ""


@dataclass
class Setup:
    """tau: station -> function of instants (longdouble seconds since `epoch`) giving delay and
    rate, the clock included."""

    stations: tuple
    bands: list
    scans: list
    streams: list
    n_channels: int
    integration_s: Fraction
    products: tuple
    tau: dict
    epoch: Fraction
    rotation: str = AFTER
    correct_quantisation: bool = False
    inputs: dict = field(default_factory=dict)  # (station, band, pol) -> stream of each channel

    def width_hz(self):
        return Fraction(self.bands[0].bandwidth_hz) / self.n_channels

    def first_hz(self, band):
        edge = Fraction(band.edge_hz)
        return edge if band.sideband > 0 else edge - Fraction(band.bandwidth_hz) + self.width_hz()


@dataclass
class Row:
    """One baseline of one integration. visibility [n_bands][n_channels][n_products], house sense
    <x_i conj(x_j)>; weight [n_bands][n_products]."""

    i: str
    j: str
    scan: int
    middle: Fraction
    length_s: Fraction
    visibility: np.ndarray
    weight: np.ndarray


def efficiency(mean_square, bits):
    """Quantisation efficiency E[x q]^2 / E[q^2] of Gaussian noise whose decoded values have this
    mean square: for a step function E[x q(x)] is the sum of the jumps times the normal density at
    the thresholds (Thompson, Moran, Swenson 2017, section 8.3)."""
    if bits == 0:
        return 1.0
    if bits == 1:
        return 2.0 / np.pi
    if bits == 2:
        outer = 3.3359
        share = (mean_square - 1.0) / (outer**2 - 1.0)
        threshold = norm.isf(share / 2.0)
        mean = 2.0 * (outer - 1.0) * norm.pdf(threshold) + 2.0 * norm.pdf(0.0)
        return mean**2 / mean_square
    half = 1 << (bits - 1)
    thresholds = np.arange(1 - half, half, dtype=float)

    def power(sigma):
        # E[q^2] by the squares' own jumps: (k + 1/2)^2 - (k - 1/2)^2 = 2 k at threshold k
        k = thresholds[thresholds > 0]
        return 0.25 + np.sum(2.0 * k * 2.0 * norm.sf(k / sigma))

    sigma = optimize.brentq(lambda s: power(s) - mean_square, 1e-2, 4.0 * half, xtol=1e-12)
    return np.sum(norm.pdf(thresholds / sigma)) ** 2 / mean_square


def offset_parts(setup, stream, frequency_hz):
    """Channel at a sky frequency: bin number and residual, which lies in (-D/2, D/2]."""
    width = setup.width_hz()
    offset = frequency_hz - Fraction(stream.zero_hz)
    in_bins = offset / width
    bin_number = -((-(in_bins - Fraction(1, 2))).__floor__())
    return bin_number, offset - bin_number * width


def segments(setup, stream, start, n_segments):
    """Samples [n_segments][n], their validity, the sub-sample shift d, delay and rate."""
    width = setup.width_hz()
    fs = stream.sample_rate_hz
    n = Fraction(fs) / width
    if n.denominator != 1:
        raise ValueError("a segment must hold whole samples")
    n = int(n)
    since = start - setup.epoch
    k = np.arange(n_segments, dtype=np.longdouble)
    inverse = np.longdouble(width.denominator) / np.longdouble(width.numerator)
    centroid = (np.longdouble(since.numerator) / np.longdouble(since.denominator) + k * inverse
                + np.longdouble(n - 1) / (2 * fs))
    tau, rate = setup.tau[stream.station](centroid)
    place = (start - stream.origin) * fs
    whole = place.__floor__()
    position = np.longdouble(float(place - whole)) + tau * fs
    nearest = np.floor(position + np.longdouble(0.5))
    d = (position - nearest).astype(float)
    first = int(whole) + np.arange(n_segments) * n + nearest.astype(np.int64)
    number = first[:, None] + np.arange(n)
    inside = (number >= 0) & (number < len(stream.x))
    number = np.where(inside, number, 0)
    valid = inside & stream.valid[number]
    x = np.where(valid, stream.x[number], 0.0)
    return x, valid, d, tau, rate


def turns_of(rate_hz, start, step, n):
    """rate_hz * (start + k * step) modulo 1, exactly."""
    first, each = Fraction(rate_hz) * start % 1, Fraction(rate_hz) * step % 1
    if each == 0:
        return np.full(n, float(first))
    return np.array([float((first + k * each) % 1) for k in range(n)])


def phasor(turns):
    turns = np.asarray(turns, dtype=np.longdouble)
    return np.exp(2j * np.pi * (turns - np.rint(turns)).astype(float))


@dataclass
class Spectra:
    """A stream in one integration: samples' validity and power."""

    x: np.ndarray
    valid: np.ndarray
    d: np.ndarray
    tau: np.ndarray
    rate: np.ndarray
    power: float
    n: int


def take(setup, stream, start, n_segments):
    x, valid, d, tau, rate = segments(setup, stream, start, n_segments)
    count = np.count_nonzero(valid)
    power = float(np.sum(np.abs(x) ** 2) / count) if count else 0.0
    return Spectra(x, valid, d, tau, rate, power, x.shape[1])


def channels_of(setup, stream, taken, start, band, channels):
    """Phase-aligned spectrum of some channels of a band: [n_segments][len(channels)]."""
    width, fs, n = setup.width_hz(), stream.sample_rate_hz, taken.n
    first_hz = setup.first_hz(band)
    places = [offset_parts(setup, stream, first_hz + c * width) for c in channels]
    residual = places[0][1]
    bins = np.array([b for b, _ in places])
    z = taken.x
    if stream.is_complex and stream.sideband < 0:
        z = np.conj(z)
    centre = 0 if stream.is_complex else Fraction(fs, 4)
    rotation_hz = float(Fraction(stream.zero_hz) + stream.sideband * centre)
    m = np.arange(n)
    drift = rotation_hz * taken.rate.astype(float) / fs
    # A residual frequency can only be turned back before the transform, whatever was asked for.
    rotated = setup.rotation == BEFORE or residual != 0
    if rotated:
        turn = drift[:, None] * (m - taken.d[:, None] - (n - 1) / 2)
        turn = turn - float(residual) * m / fs
        z = z * np.exp(2j * np.pi * turn)
    spectrum = fft.fft(z, axis=1)[:, bins % n]
    offset_hz = bins * float(width) + float(residual)
    phase = (np.longdouble(stream.zero_hz) * taken.tau)[:, None]
    phase = phase - np.floor(phase) + offset_hz * (taken.d[:, None] / fs)
    phase = phase + turns_of(Fraction(stream.zero_hz) - first_hz, start, 1 / width,
                             len(taken.d))[:, None]
    if not rotated:
        phase = phase - (drift * taken.d)[:, None]
    return spectrum * phasor(phase)


def stream_of_channels(setup, station, band, polarization):
    """The stream that fills each channel of a band: the one whose own channels include it, that
    of the zero frequency counted in and that of the far edge not, unless no other has it."""
    chosen = []
    width, first = setup.width_hz(), setup.first_hz(band)
    candidates = [s for s in setup.streams
                  if s.station == station and s.polarization == polarization]
    for c in range(setup.n_channels):
        frequency = first + c * width
        best = None
        for stream in candidates:
            low, high = stream.own_range_hz()
            far = high if stream.sideband > 0 else low
            if low <= frequency <= high:
                if frequency != far:
                    best = stream
                    break
                best = best or stream
        chosen.append(best)
    return chosen


def common_fraction(a, b):
    """Share of each segment in which both are valid, of streams with different rates too."""
    grid = int(np.lcm(a.shape[1], b.shape[1]))
    both = np.repeat(a, grid // a.shape[1], axis=1) & np.repeat(b, grid // b.shape[1], axis=1)
    return both.mean(axis=1)


class Integration:
    """All streams of one integration, each prepared once."""

    def __init__(self, setup, start, n_segments):
        self.setup, self.start, self.n_segments = setup, start, n_segments
        self.taken, self.spectra, self.fractions = {}, {}, {}

    def take(self, stream):
        key = id(stream)
        if key not in self.taken:
            self.taken[key] = take(self.setup, stream, self.start, self.n_segments)
        return self.taken[key]

    def channels(self, stream, i_band, channels):
        key = (id(stream), i_band, channels[0], len(channels))
        if key not in self.spectra:
            self.spectra[key] = channels_of(self.setup, stream, self.take(stream), self.start,
                                            self.setup.bands[i_band], channels)
        return self.spectra[key]

    def common(self, a, b):
        key = (id(a), id(b))
        if key not in self.fractions:
            self.fractions[key] = float(np.sum(common_fraction(self.take(a).valid,
                                                               self.take(b).valid)))
        return self.fractions[key]

    def scale(self, a, b):
        """What a sum of products is divided by, but for the common validity."""
        ta, tb = self.take(a), self.take(b)
        scale = np.sqrt(float(ta.n) * tb.n * ta.power * tb.power)
        if self.setup.correct_quantisation and a is not b:
            parts = [2.0 if s.is_complex else 1.0 for s in (a, b)]
            scale *= np.sqrt(efficiency(ta.power / parts[0], a.bits)
                             * efficiency(tb.power / parts[1], b.bits))
        return scale


def baseline_row(integration, i, j, full_segments):
    """Visibilities and weights of one baseline."""
    setup = integration.setup
    n_bands, n_products = len(setup.bands), len(setup.products)
    visibility = np.zeros((n_bands, setup.n_channels, n_products), dtype=complex)
    weight = np.zeros((n_bands, n_products))
    for i_band in range(n_bands):
        for i_product, (pol_i, pol_j) in enumerate(setup.products):
            a_of = setup.inputs[i, i_band, pol_i]
            b_of = setup.inputs[j, i_band, pol_j]
            pairs = list(zip(map(id, a_of), map(id, b_of)))
            edges = [0] + [c for c in range(1, len(pairs)) if pairs[c] != pairs[c - 1]]
            for first, last in zip(edges, edges[1:] + [len(pairs)]):
                a, b, channels = a_of[first], b_of[first], list(range(first, last))
                if a is None or b is None:
                    continue
                common = integration.common(a, b)
                if common == 0:
                    continue
                product = (integration.channels(a, i_band, channels)
                           * np.conj(integration.channels(b, i_band, channels))).sum(axis=0)
                visibility[i_band, first:last, i_product] = (
                    product / common / integration.scale(a, b))
                weight[i_band, i_product] += (
                    common / full_segments * len(channels) / setup.n_channels)
    return visibility, weight


def correlate(setup):
    """Every row, in order of time and baseline; those without a valid sample left out."""
    if not setup.inputs:
        polarizations = {p for product in setup.products for p in product}
        setup.inputs = {(station, i_band, p): stream_of_channels(setup, station, band, p)
                        for station in setup.stations
                        for i_band, band in enumerate(setup.bands) for p in polarizations}
    width = setup.width_hz()
    full = Fraction(setup.integration_s) * width
    if full.denominator != 1:
        raise ValueError("an integration must hold whole segments")
    full = int(full)
    rows = []
    for i_scan, scan in enumerate(setup.scans):
        left = int((Fraction(scan.duration_s) * width).__floor__())
        start = scan.start
        while left > 0:
            n_segments = min(full, left)
            length = n_segments / width
            integration = Integration(setup, start, n_segments)
            here = [s for s in setup.stations if s in scan.stations]
            for place, i in enumerate(here):
                for j in here[place:]:
                    visibility, weight = baseline_row(integration, i, j, full)
                    if np.any(weight > 0):
                        rows.append(Row(i, j, i_scan, start + length / 2, length, visibility,
                                        weight))
            start += length
            left -= n_segments
    return rows
