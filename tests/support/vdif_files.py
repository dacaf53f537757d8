# SPDX-License-Identifier: GPL-3.0-or-later
"""VDIF files written and read with numpy alone, from the layout in the VDIF Specification,
Release 1.1.1 (VDIF Task Force, 2014), figure 3 and section 10."""

from dataclasses import dataclass
from fractions import Fraction

import erfa
import numpy as np

import times

# Decision levels in units of the standard deviation that waste least of the signal-to-noise
# ratio. 2 bits: Thompson, Moran, Swenson 2017, section 8.3 (n = 3.3359, v0 = 0.98159); 4 and 8
# bits: equal steps, Thompson, Emerson, Schwab 2007, Radio Science 42, RS3022, table 1.
STEP_SIGMA = {2: 0.98159, 4: 0.335201, 8: 0.030762, 16: 1.0e-3}
OUTER_LEVEL_2_BITS = 3.3359
INVALID = 1 << 31
LEGACY = 1 << 30


def quantise(x, bits):
    """Codes of real values of unit standard deviation; complex ones get a last axis of two."""
    if np.iscomplexobj(x):
        return np.stack([quantise(x.real, bits), quantise(x.imag, bits)], axis=-1)
    if bits == 1:
        return (x >= 0).astype(np.uint32)
    half = 1 << (bits - 1)
    codes = np.floor(x / STEP_SIGMA[bits]) + half
    return np.clip(codes, 0, 2 * half - 1).astype(np.uint32)


def levels(bits):
    """The value that each code stands for."""
    if bits == 2:
        return np.array([-OUTER_LEVEL_2_BITS, -1.0, 1.0, OUTER_LEVEL_2_BITS])
    return np.arange(1 << bits) - (1 << (bits - 1)) + 0.5


def decode(codes, bits, is_complex):
    values = levels(bits)[codes]
    return values[..., 0] + 1j * values[..., 1] if is_complex else values


def pack(codes, bits, is_complex):
    """Codes [n_samples, n_channels] or [n_samples, n_channels, 2] to payload bytes: complete
    values in 32-bit words, the first in the lowest bits."""
    group = 2 if is_complex else 1
    per_word = 32 // (bits * group) * group
    flat = np.asarray(codes, dtype=np.uint32).reshape(-1)
    if flat.size % per_word:
        raise ValueError("the payload does not end with a word")
    words = np.zeros(flat.size // per_word, dtype="<u4")
    for place, column in enumerate(flat.reshape(-1, per_word).T):
        words |= column << np.uint32(bits * place)
    return words.tobytes()


def unpack(payload, bits, is_complex, n_channels):
    """Payload bytes to codes [n_samples, n_channels(, 2)]."""
    group = 2 if is_complex else 1
    per_word = 32 // (bits * group) * group
    words = np.frombuffer(payload, dtype="<u4")
    shifts = np.arange(per_word, dtype=np.uint32) * np.uint32(bits)
    mask = np.uint32((1 << bits) - 1)
    flat = ((words[:, None] >> shifts) & mask).reshape(-1)
    n_samples = flat.size // (group * n_channels)
    shape = (n_samples, n_channels, 2) if is_complex else (n_samples, n_channels)
    return flat[:n_samples * group * n_channels].reshape(shape)


def reference_epoch(t):
    """Number and instant of the half-year period that holds t."""
    mjd, _ = times.mjd_of(t)
    year, month, _, _ = erfa.jd2cal(2400000.5, float(mjd))
    epoch = 2 * (int(year) - 2000) + (1 if month >= 7 else 0)
    _, mjd_epoch = erfa.cal2jd(int(year), 7 if month >= 7 else 1, 1)
    return epoch, times.of_mjd(int(mjd_epoch))


def header(second, frame, frame_bytes, bits, *, epoch, thread=0, n_channels=1, is_complex=False,
           station=0, invalid=False, legacy=False, version=1, extended=(0, 0, 0, 0)):
    """One frame header: 32 bytes, or 16 of a legacy one. second: since the reference epoch."""
    log2_channels = n_channels.bit_length() - 1
    if 1 << log2_channels != n_channels or frame_bytes % 8:
        raise ValueError("channels must be a power of two and a frame a multiple of 8 bytes")
    words = [
        (INVALID if invalid else 0) | (LEGACY if legacy else 0) | second,
        epoch << 24 | frame,
        version << 29 | log2_channels << 24 | frame_bytes // 8,
        (1 << 31 if is_complex else 0) | (bits - 1) << 26 | thread << 16 | station,
    ]
    if not legacy:
        words += extended
    return np.array(words, dtype="<u4").tobytes()


@dataclass
class Thread:
    """One thread's samples from `start` on, and what is wrong with its frames.

    codes: [n_samples, n_channels] or [n_samples, n_channels, 2]. missing, invalid: numbers of
    frames, counted from the thread's first.
    """

    codes: np.ndarray
    number: int = 0
    missing: tuple = ()
    invalid: tuple = ()


@dataclass
class Layout:
    """What all frames of a file have in common."""

    start: Fraction
    sample_rate_hz: int
    bits: int
    is_complex: bool = False
    samples_per_frame: int = 0
    legacy: bool = False
    station: int = 0
    extended: tuple = (0, 0, 0, 0)

    def frame_time(self, index):
        """Seconds since the reference epoch and number within the second of a frame."""
        per_second = self.sample_rate_hz // self.samples_per_frame
        if per_second * self.samples_per_frame != self.sample_rate_hz:
            raise ValueError("a second must hold a whole number of frames")
        epoch, origin = reference_epoch(self.start)
        place = (self.start - origin) * per_second
        if place.denominator != 1:
            raise ValueError("the recording must start with a frame")
        second, frame = divmod(int(place) + index, per_second)
        return epoch, second, frame


def frames(layout, thread):
    """(index, bytes) of every frame of a thread that is not missing."""
    n_channels = thread.codes.shape[1]
    n = layout.samples_per_frame
    if len(thread.codes) % n:
        raise ValueError("samples do not fill the last frame")
    head = 16 if layout.legacy else 32
    for index in range(len(thread.codes) // n):
        if index in thread.missing:
            continue
        payload = pack(thread.codes[index * n:(index + 1) * n], layout.bits, layout.is_complex)
        epoch, second, frame = layout.frame_time(index)
        yield index, header(
            second, frame, head + len(payload), layout.bits, epoch=epoch, thread=thread.number,
            n_channels=n_channels, is_complex=layout.is_complex, station=layout.station,
            invalid=index in thread.invalid, legacy=layout.legacy,
            extended=layout.extended) + payload


def write(path, layout, threads, order=None):
    """Write one file, the frames by time and then by thread; `order` may rearrange the list."""
    entries = [(index, thread.number, data) for thread in threads
               for index, data in frames(layout, thread)]
    entries.sort(key=lambda entry: entry[:2])
    if order is not None:
        entries = order(entries)
    with open(path, "wb") as file:
        for _, _, data in entries:
            file.write(data)


@dataclass
class Frame:
    """A frame as read back."""

    epoch: int
    second: int
    number: int
    thread: int
    bits: int
    is_complex: bool
    n_channels: int
    station: int
    invalid: bool
    legacy: bool
    version: int
    extended: tuple
    codes: np.ndarray


def read(path):
    """Every frame of a file, in the order of the file."""
    with open(path, "rb") as file:
        data = file.read()
    found, place = [], 0
    while place < len(data):
        words = np.frombuffer(data, dtype="<u4", count=4, offset=place)
        w0, w1, w2, w3 = (int(word) for word in words)
        legacy = bool(w0 & LEGACY)
        head, length = (16 if legacy else 32), 8 * (w2 & 0xFFFFFF)
        extended = () if legacy else tuple(
            int(word) for word in np.frombuffer(data, dtype="<u4", count=4, offset=place + 16))
        bits, is_complex, n_channels = (w3 >> 26 & 31) + 1, bool(w3 >> 31), 1 << (w2 >> 24 & 31)
        found.append(Frame(
            epoch=w1 >> 24 & 63, second=w0 & 0x3FFFFFFF, number=w1 & 0xFFFFFF,
            thread=w3 >> 16 & 1023, bits=bits, is_complex=is_complex, n_channels=n_channels,
            station=w3 & 0xFFFF, invalid=bool(w0 & INVALID), legacy=legacy, version=w2 >> 29,
            extended=extended,
            codes=unpack(data[place + head:place + length], bits, is_complex, n_channels)))
        place += length
    return found
