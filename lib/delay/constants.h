/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Constants of the delay model, each once. IERS = Petit and Luzum (eds.) 2010, IERS Conventions
 * (2010), Technical Note 36. */
#ifndef WFI_DELAY_CONSTANTS_H
#define WFI_DELAY_CONSTANTS_H

/* IERS table 1.1 */
static const double WFI_SPEED_OF_LIGHT_M_PER_S = 299792458.0;
static const double WFI_GM_SUN_M3_PER_S2 = 1.32712442099e20;
static const double WFI_GM_EARTH_M3_PER_S2 = 3.986004418e14;
static const double WFI_EARTH_RADIUS_M = 6378136.6;
static const double WFI_MOON_TO_EARTH_MASS = 0.0123000371;

/* Turns of the Earth Rotation Angle in a day of UT1: IERS eq. 5.15. */
static const double WFI_EARTH_TURNS_PER_DAY = 1.00273781191135448;

/* The drift of directions towards the Galactic centre by the Sun's acceleration, microarcsec a
 * year, and where that is, deg: Charlot et al. 2020, Astron. Astrophys. 644, A159 (ICRF3). */
static const double WFI_GALACTIC_DRIFT_UAS_PER_YEAR = 5.8;
static const double WFI_GALACTIC_CENTRE_DEG[2] = {266.4, -28.9};

static const double WFI_DAY_S = 86400.0;
static const double WFI_JULIAN_YEAR_S = 365.25 * 86400.0;

#endif
