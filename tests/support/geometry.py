# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the stations are on the rotating Earth, from ERFA alone."""

import erfa
import numpy as np

import jobs
import times

SPEED_OF_LIGHT_M_PER_S = 299792458.0
_ARCSEC = np.pi / 180 / 3600
_TAI_MINUS_UTC_2026 = 37.0


def terrestrial_to_celestial(t):
    """Rotation from ITRS to GCRS at an instant of 2026, with the pole and UT1 of
    jobs.EARTH_ORIENTATION (its celestial pole offsets, 1e-9 rad, are left out)."""
    mjd, second = times.mjd_of(t)
    day = float(second) / 86400
    orientation = jobs.EARTH_ORIENTATION
    terrestrial = day + (_TAI_MINUS_UTC_2026 + 32.184) / 86400
    universal = day + orientation["ut1_minus_utc_s"] / 86400
    return erfa.c2t06a(2400000.5 + mjd, terrestrial, 2400000.5 + mjd, universal,
                       orientation["pole_x_arcsec"] * _ARCSEC,
                       orientation["pole_y_arcsec"] * _ARCSEC).T


def axes(right_ascension_deg, declination_deg):
    """Unit vectors east, north and towards the source, in GCRS."""
    a, d = np.radians(right_ascension_deg), np.radians(declination_deg)
    return np.array([[-np.sin(a), np.cos(a), 0.0],
                     [-np.sin(d) * np.cos(a), -np.sin(d) * np.sin(a), np.cos(d)],
                     [np.cos(d) * np.cos(a), np.cos(d) * np.sin(a), np.sin(d)]])


def plane_delay_s(position_itrf_m, direction, t):
    """Arrival at the station after the geocentre of a plane wave, without aberration."""
    return -float(direction @ (terrestrial_to_celestial(t) @ position_itrf_m)
                  / SPEED_OF_LIGHT_M_PER_S)
