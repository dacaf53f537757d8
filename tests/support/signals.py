# SPDX-License-Identifier: GPL-3.0-or-later
"""Station signals of an invented sky, in double precision.

The wave is E(t) exp(2 pi i f t), E being complex white noise about a sky frequency f. It passes
the geocentre at t and the station at the tag T = t + tau(t). The receiver multiplies by
exp(-2 pi i nu0 T), T counted from 2000-01-01, and keeps the complex result, its conjugate (lower
sideband, complex) or its real part.
"""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from scipy.special import i0


def white(generator, n):
    """Complex white noise of unit mean square."""
    return (generator.standard_normal(n) + 1j * generator.standard_normal(n)) * np.sqrt(0.5)


class Wave:
    """Complex noise of unit power, white over `bandwidth_hz` about `centre_hz`, periodic, to be
    read at any time from `start` on for `duration_s`.

    It is made on a grid of `OVERSAMPLING` times its bandwidth from a spectrum that is zero
    outside the band, and read through a Kaiser-windowed sinc of `2 * HALF_TAPS` taps. With three
    quarters of the grid's spectrum empty the images stay below 1e-8.
    """

    OVERSAMPLING = 4
    HALF_TAPS = 8
    _BETA = 18.0

    def __init__(self, generator, centre_hz, bandwidth_hz, start, duration_s):
        self.centre_hz = centre_hz
        self.bandwidth_hz = bandwidth_hz
        self.rate_hz = self.OVERSAMPLING * bandwidth_hz
        margin = 4 * self.HALF_TAPS
        n_band = int(np.ceil(float(duration_s) * bandwidth_hz)) + 2 * margin
        n_band += n_band % 2
        n = self.OVERSAMPLING * n_band
        self.start = start - Fraction(margin) / Fraction(self.rate_hz)
        spectrum = np.zeros(n, dtype=complex)
        half = n_band // 2
        spectrum[:half] = white(generator, half)
        spectrum[-half:] = white(generator, half)
        self.envelope = np.fft.ifft(spectrum) * n / np.sqrt(n_band)

    def read(self, place):
        """Envelope at `place` steps of the grid since self.start (floats; the caller has
        subtracted in exact arithmetic)."""
        whole = np.floor(place).astype(np.int64)
        part = place - whole
        out = np.zeros(len(place), dtype=complex)
        n = len(self.envelope)
        for tap in range(1 - self.HALF_TAPS, self.HALF_TAPS + 1):
            x = part - tap
            inside = np.sqrt(np.maximum(0.0, 1.0 - (x / self.HALF_TAPS) ** 2))
            weight = np.sinc(x) * i0(self._BETA * inside) / i0(self._BETA)
            out += weight * self.envelope[(whole + tap) % n]
        return out


@dataclass
class Receiver:
    """One stream: zero_hz is the sky frequency at zero baseband frequency."""

    zero_hz: float
    sample_rate_hz: int
    is_complex: bool = False
    sideband: int = 1

    def centre_hz(self):
        if self.is_complex:
            return self.zero_hz
        return self.zero_hz + self.sideband * self.sample_rate_hz / 4

    def bandwidth_hz(self):
        return self.sample_rate_hz if self.is_complex else self.sample_rate_hz / 2

    def holds(self, wave):
        room = (self.bandwidth_hz() - wave.bandwidth_hz) / 2
        return abs(self.centre_hz() - wave.centre_hz) <= room


def _turns(rate_hz, start, sample_rate_hz, n):
    """rate_hz * (start + k / sample_rate_hz) modulo 1 for k = 0 .. n-1, without rounding of the
    whole turns."""
    first = float(Fraction(rate_hz) * start % 1)
    step = Fraction(rate_hz) / sample_rate_hz % 1
    # k * step modulo 1 in two parts, the first exact in 64-bit integers
    scale = 1 << 32
    coarse, fine = divmod(step * scale, 1)
    k = np.arange(n, dtype=np.int64)
    return first + ((k * int(coarse)) % scale) / scale + k * (float(fine) / scale)


def arrival_delay(tau, start, sample_rate_hz, n):
    """T - t of every sample: the wave tagged T passed the geocentre at t, T = t + tau(t). tau:
    of seconds since `start`, in extended precision."""
    tagged = np.arange(n, dtype=np.longdouble) / sample_rate_hz
    lag = tau(tagged)
    for _ in range(3):  # converges by the delay rate, at most 1e-4, each time
        lag = tau(tagged - lag)
    return lag


def received(wave, receiver, tau, start, n):
    """n samples of the wave from tag `start` on; of a complex stream of unit power, of a real one
    of power 1/2."""
    lag = arrival_delay(tau, start, receiver.sample_rate_hz, n)
    offset = float((start - wave.start) * Fraction(wave.rate_hz))
    k = np.arange(n, dtype=np.longdouble)
    place = offset + (k / receiver.sample_rate_hz - lag) * np.longdouble(wave.rate_hz)
    envelope = wave.read(place.astype(float))
    turned = _turns(Fraction(wave.centre_hz) - Fraction(receiver.zero_hz), start,
                    receiver.sample_rate_hz, n)
    late = np.longdouble(wave.centre_hz) * lag
    late = (late - np.floor(late)).astype(float)
    z = envelope * np.exp(2j * np.pi * (turned - late))
    if not receiver.is_complex:
        return z.real
    return np.conj(z) if receiver.sideband < 0 else z


def noise(generator, receiver, n):
    """The receiver's own noise, of unit power: white over all of the stream's band."""
    return white(generator, n) if receiver.is_complex else generator.standard_normal(n)


@dataclass
class Part:
    """A wave as one station sees it: `density` is its spectral density against that of a stream
    of unit power that is white over its band, so between 0 and 1."""

    wave: Wave
    tau: object  # of seconds since the start of the recording, in extended precision
    density: float


def station_signal(generator, receiver, parts, noise_density, start, n):
    """n samples from tag `start` on: the waves, and the receiver's own noise. Unit power if the
    densities add up to 1 at every frequency of the band."""
    x = np.sqrt(noise_density) * noise(generator, receiver, n)
    for part in parts:
        if not receiver.holds(part.wave):
            raise ValueError("a wave reaches beyond the stream's band and would fold back")
        power = part.density * part.wave.bandwidth_hz / receiver.bandwidth_hz()
        scale = power if receiver.is_complex else 2.0 * power
        x = x + np.sqrt(scale) * received(part.wave, receiver, part.tau, start, n)
    return x


def polynomial(coefficients):
    """tau(t) = sum of c_k t^k, t in seconds, in extended precision."""
    reversed_terms = [np.longdouble(c) for c in coefficients][::-1]

    def evaluate(t):
        total = np.zeros_like(np.asarray(t, dtype=np.longdouble))
        for c in reversed_terms:
            total = total * t + c
        return total

    return evaluate
