# SPDX-License-Identifier: GPL-3.0-or-later
"""WAV and RF64 files byte by byte, with lengths that are wrong on purpose. RIFF: Multimedia
Programming Interface and Data Specifications 1.0 (1991); RF64: EBU Tech 3306 v1 (2007)."""

import struct

OPEN = 0xFFFFFFFF


def _format(channels, rate_hz, sample_type):
    kind = {"i": 1, "f": 3}[sample_type.kind]  # integers, IEEE floats
    size = sample_type.itemsize
    return b"fmt " + struct.pack("<IHHIIHH", 16, kind, channels, rate_hz,
                                 rate_hz * channels * size, channels * size, 8 * size)


def wav(samples, rate_hz, *, stated=None, tail=b""):
    """samples: little-endian, [n][channels]. stated: bytes of samples by the header."""
    data = samples.tobytes()
    stated = len(data) if stated is None else stated
    body = b"WAVE" + _format(samples.shape[1], rate_hz, samples.dtype)
    body += b"data" + struct.pack("<I", stated) + data + tail
    whole = OPEN if stated == OPEN else len(body) - len(data) - len(tail) + stated
    return b"RIFF" + struct.pack("<I", whole) + body


def rf64(samples, rate_hz, *, stated=None):
    data = samples.tobytes()
    stated = len(data) if stated is None else stated
    body = b"WAVEds64" + struct.pack("<IQQQI", 28, stated + 72, stated, len(samples), 0)
    body += _format(samples.shape[1], rate_hz, samples.dtype)
    return b"RF64" + struct.pack("<I", OPEN) + body + b"data" + struct.pack("<I", OPEN) + data
