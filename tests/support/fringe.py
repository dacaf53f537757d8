# SPDX-License-Identifier: GPL-3.0-or-later
"""Residual delay and rate of a baseline from the phases of its visibilities."""

import numpy as np


def fit(time_s, frequency_hz, visibility, coefficient, scatter):
    """Least squares of a flat fringe of known coefficient on visibility [n_times][n_channels],
    by Gauss and Newton from zero: the fringe must turn less than half a turn over the data.

    scatter: standard deviation of one component of one visibility. Returns (delay, error) and
    (rate, error) of the first station against the second, true minus model: V has phase
    -2 pi nu (delay + rate t), delay at the middle of the data.
    """
    t = (time_s - np.mean(time_s))[:, None]
    f = frequency_hz - np.mean(frequency_hz)
    middle = np.mean(frequency_hz)
    delay = rate = 0.0
    for _ in range(10):
        turned = visibility * np.exp(2j * np.pi * (f * delay + middle * t * rate))
        turned = turned * np.exp(-1j * np.angle(np.sum(turned)))
        off = turned.imag / coefficient
        delay -= np.sum(off * f) / np.sum(f**2) / len(t) / (2 * np.pi)
        rate -= np.sum(off * t) / np.sum(t**2) / len(f) / (2 * np.pi * middle)
    noise = scatter / coefficient / (2 * np.pi)
    return ((delay, noise / np.sqrt(np.sum(f**2) * len(t))),
            (rate, noise / middle / np.sqrt(np.sum(t**2) * len(f))))
