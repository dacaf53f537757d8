/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light is slow and bent near masses: the terms G of the vacuum delay's numerator. */
#ifndef WFI_DELAY_GRAVITY_H
#define WFI_DELAY_GRAVITY_H

#include "delay/geometry.h"

/** All against the geocentre, s, before the division by the denominator.
 *  source  IERS Conventions (2010) eq. 11.1 to 11.6; 11.14: the Sun's second order; 11.2: Earth */
double wfi_gravity_sun_s(const wfi_sight *sight, const wfi_ephemeris *ephemeris);
double wfi_gravity_planets_s(const wfi_sight *sight, const wfi_ephemeris *ephemeris);
double wfi_gravity_earth_s(const wfi_sight *sight);

#endif
