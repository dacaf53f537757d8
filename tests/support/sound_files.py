# SPDX-License-Identifier: GPL-3.0-or-later
"""Sound files (WAV, FLAC, RF64, W64) written and read through the soundfile package."""

import numpy as np
import soundfile

SUFFIX = {"WAV": "wav", "FLAC": "flac", "RF64": "rf64", "W64": "w64"}


def columns_of(streams):
    """Streams [n_streams][n_samples], real or complex, to the file's channels side by side: a
    complex stream becomes I and then Q."""
    columns = []
    for x in streams:
        columns += [x.real, x.imag] if np.iscomplexobj(x) else [x]
    return np.stack(columns, axis=1)


def write(path, streams, sample_rate_hz, *, kind="WAV", subtype="PCM_16", full_scale_sigma=8.0):
    """Write streams of unit standard deviation; returns what the file then holds, as streams of
    the same kind, in units of the sampler's step (of full scale for floats)."""
    columns = columns_of(streams) / full_scale_sigma
    soundfile.write(path, columns, sample_rate_hz, format=kind, subtype=subtype)
    held, rate = soundfile.read(path, dtype="float64", always_2d=True)
    if rate != sample_rate_hz:
        raise ValueError("the file lost its sample rate")
    steps = {"PCM_U8": 1 << 7, "PCM_S8": 1 << 7, "PCM_16": 1 << 15, "PCM_24": 1 << 23,
             "PCM_32": 1 << 31, "FLOAT": 1, "DOUBLE": 1}[subtype]
    held = held * steps
    out, column = [], 0
    for x in streams:
        if np.iscomplexobj(x):
            out.append(held[:, column] + 1j * held[:, column + 1])
            column += 2
        else:
            out.append(held[:, column])
            column += 1
    return out
