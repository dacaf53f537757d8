# SPDX-License-Identifier: GPL-3.0-or-later
"""Instants as exact fractions: SI seconds elapsed since 2000-01-01T00:00:00 UTC, leap seconds
counted. Calendar and leap seconds come from ERFA."""

from fractions import Fraction

import erfa

MJD_2000 = 51544
_TAI_MINUS_UTC_2000 = 32


def _tai_minus_utc(mjd):
    _, year, month, day, _ = _civil(mjd)
    return int(round(float(erfa.dat(year, month, day, 0.0))))


def _civil(mjd):
    year, month, day, fraction = erfa.jd2cal(2400000.5, float(mjd))
    return mjd, int(year), int(month), int(day), float(fraction)


def of_mjd(mjd):
    """0h UTC of a modified Julian day."""
    return Fraction((mjd - MJD_2000) * 86400 + _tai_minus_utc(mjd) - _TAI_MINUS_UTC_2000)


def mjd_of(t):
    """Modified Julian day that holds instant t, and the seconds since its 0h."""
    mjd = MJD_2000 + int(t // 86400)
    while of_mjd(mjd) > t:
        mjd -= 1
    return mjd, t - of_mjd(mjd)


def parse(text):
    """`2026-03-01T12:00:00.25` to an exact instant."""
    date, clock = text.split("T")
    year, month, day = (int(part) for part in date.split("-"))
    hour, minute, second = clock.split(":")
    _, mjd = erfa.cal2jd(year, month, day)
    return of_mjd(int(mjd)) + int(hour) * 3600 + int(minute) * 60 + Fraction(second)


def text(t, n_digits=12):
    """An instant as ISO 8601; it must not need more digits than given."""
    mjd, second_of_day = mjd_of(t)
    leap = max(0, second_of_day.__floor__() - 86399)
    scaled = second_of_day * 10**n_digits
    if scaled.denominator != 1:
        raise ValueError(f"{t} needs more than {n_digits} digits")
    whole, part = divmod(int(scaled), 10**n_digits)
    whole -= leap
    _, year, month, day, _ = _civil(mjd)
    return (f"{year:04d}-{month:02d}-{day:02d}T{whole // 3600:02d}:{whole // 60 % 60:02d}:"
            f"{whole % 60 + leap:02d}" + (f".{part:0{n_digits}d}".rstrip("0") if part else ""))
