# SPDX-License-Identifier: GPL-3.0-or-later
"""Known damage to VDIF files: lists of frames as bytes, changed at known places, and which frames
are lost by it. Words as in the VDIF Specification, Release 1.1.1 (VDIF Task Force, 2014), figure
3."""

from dataclasses import dataclass, field

import numpy as np

FILL = bytes.fromhex("44332211")
INVALID = 1 << 31


def split(data):
    """A whole file into its frames; each states its length in word 2."""
    frames, place = [], 0
    while place < len(data):
        n = 8 * int.from_bytes(data[place + 8:place + 11], "little")
        frames.append(bytes(data[place:place + n]))
        place += n
    return frames


def word(frame, i):
    return int.from_bytes(frame[4 * i:4 * i + 4], "little")


def with_word(frame, i, value):
    return frame[:4 * i] + int(value).to_bytes(4, "little") + frame[4 * i + 4:]


@dataclass
class Damage:
    """pieces: what stands in the file, in order. lost: frames whose samples are lost. kind, count:
    what the report has to say, and of how many frames; first: the first of them, counted in the
    undamaged file, None where the fault has no time."""

    pieces: list
    lost: set = field(default_factory=set)
    kind: str = None
    n_frames: int = 0
    first: int = None


def _replace(frames, places, change):
    return [change(f) if i in places else f for i, f in enumerate(frames)]


def garbage(n, seed=5):
    return np.random.default_rng(seed).integers(0, 256, n, dtype=np.uint8).tobytes()


def missing(frames, places):
    return Damage([f for i, f in enumerate(frames) if i not in places], set(places), "missing",
                  len(places), min(places))


def twice(frames, places):
    pieces = []
    for i, f in enumerate(frames):
        pieces += [f, f] if i in places else [f]
    return Damage(pieces, set(), "duplicate", len(places), min(places))


def twice_with_other_samples(frames, places):
    """The second copy holds other samples: it must not be taken."""
    pieces = []
    for i, f in enumerate(frames):
        pieces += [f, f[:32] + garbage(len(f) - 32, i)] if i in places else [f]
    return Damage(pieces, set(), "duplicate", len(places), min(places))


def swapped(frames, a, b):
    """Two frames have changed places. n_frames: both where others stand between, else one."""
    pieces = list(frames)
    pieces[a], pieces[b] = pieces[b], pieces[a]
    return Damage(pieces, set(), "out_of_order", 1 if b == a + 1 else 2, None)


def moved(frames, a, n, to):
    """n frames from a on stand before frame `to`."""
    block = frames[a:a + n]
    rest = frames[:a] + frames[a + n:]
    place = to - n if to > a else to
    return Damage(rest[:place] + block + rest[place:], set(), "out_of_order", n, a)


def flagged(frames, places):
    return Damage(_replace(frames, places, lambda f: with_word(f, 0, word(f, 0) | INVALID)),
                  set(places), "invalid_flag", len(places), min(places))


def filled(frames, places):
    return Damage(_replace(frames, places, lambda f: f[:32] + FILL * (len(f) // 4 - 8)),
                  set(places), "fill", len(places), min(places))


def fill_frames(frames, places):
    """Words 1 and 3 are zero, the extended words and the payload are fill."""
    def change(f):
        f = with_word(with_word(with_word(f, 0, INVALID), 1, 0), 3, 0)
        return f[:16] + FILL * (len(f) // 4 - 4)
    return Damage(_replace(frames, places, change), set(places), "fill", len(places), min(places))


def junk_headers(frames, places):
    return Damage(_replace(frames, places, lambda f: garbage(32) + f[32:]), set(places),
                  "bad_header", len(places), min(places))


def other_bits(frames, places):
    return Damage(_replace(frames, places, lambda f: with_word(f, 3, word(f, 3) ^ 1 << 26)),
                  set(places), "bad_header", len(places), min(places))


def wrong_seconds(frames, places, by):
    return Damage(_replace(frames, places, lambda f: with_word(f, 0, word(f, 0) + by)),
                  set(places), "wrong_time", len(places), min(places))


def number_too_large(frames, places, per_second):
    return Damage(_replace(frames, places, lambda f: with_word(f, 1, word(f, 1) + per_second)),
                  set(places), "bad_header", len(places), min(places))


def ticks_late(frames, tick, n):
    """The number goes back to zero with frame `tick`, the second goes on n frames later."""
    places = set(range(tick, tick + n))
    return Damage(_replace(frames, places, lambda f: with_word(f, 0, word(f, 0) - 1)), places,
                  "wrong_time", n, tick)


def number_back_late(frames, tick, n, per_second):
    """The second goes on with frame `tick`, the number goes back to zero n frames later."""
    return number_too_large(frames, set(range(tick, tick + n)), per_second)


def absent_beside_another_thread(frames, places):
    """Thread 1 goes on where frames of thread 0 are not there."""
    pieces = []
    for i, f in enumerate(frames):
        pieces += ([] if i in places else [f]) + [with_word(f, 3, word(f, 3) | 1 << 16)]
    return Damage(pieces, set(places), "missing", len(places), min(places))


def junk_extended_words(frames, places):
    """Words 4 to 7 are of no known version: they say nothing of the samples."""
    return Damage(_replace(frames, places, lambda f: f[:16] + garbage(3) + b"\x77" + garbage(12) +
                           f[32:]))


def garbage_before(frames, n):
    return Damage([garbage(n)] + frames, set(), "garbage")


def garbage_between(frames, place, n):
    """Nothing proves that the frame before it is whole."""
    return Damage(frames[:place] + [garbage(n)] + frames[place:], {place - 1}, "unproven", 1,
                  place - 1)


def garbage_after(frames, n):
    return Damage(frames + [garbage(n)], {len(frames) - 1}, "unproven", 1, len(frames) - 1)


def bytes_lost(frames, place, n):
    """n bytes less in a frame."""
    f = frames[place]
    return Damage(frames[:place] + [f[:60] + f[60 + n:]] + frames[place + 1:], {place},
                  "unproven", 1, place)


def truncated(frames, n):
    """The last frame has n bytes less."""
    return Damage(frames[:-1] + [frames[-1][:-n]], {len(frames) - 1}, "truncated", 1)
