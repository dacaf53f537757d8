/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Earth's figure follows the wandering pole: displacements of solid Earth and ocean. */
#ifndef WFI_DELAY_POLE_TIDE_H
#define WFI_DELAY_POLE_TIDE_H

#include <whitefringe/observation.h>

#include "delay/local_frame.h"

/** How far the pole is from where it would be in the long run. */
typedef struct wfi_wobble {
    double m1_rad; /* along the Greenwich meridian */
    double m2_rad; /* along 90 degrees east: the sign is opposite to that of pole y */
} wfi_wobble;

/** source  IERS Conventions (2010) eq. 7.25; the pole of reference: secular pole of the
 * conventions' update of 2018 (eq. 21), or the mean pole of the edition of 2010 (table 7.7) */
wfi_wobble wfi_wobble_of(wf_pole_tide_reference reference, wf_instant t, double pole_x_rad,
                         double pole_y_rad);

/** Displacement of a station, east, north, up, m.
 *
 *  given   frame  of the station, geodetic: the equation does not say which colatitude it means;
 *                 published VLBI theory takes this one (the other moves a station by 12 um at most)
 *  source  IERS Conventions (2010) eq. 7.26
 */
void wfi_pole_tide(const wfi_local_frame *frame, wfi_wobble wobble, double enu_m[3]);

/** The ocean's load, east, north, up, m, by the station's coefficients.
 *
 *  source  IERS Conventions (2010) eq. 7.29; Desai 2002, J. Geophys. Res. 107, 3186
 */
void wfi_ocean_pole_tide(const wf_ocean_pole_tide *coefficients, wfi_wobble wobble,
                         double enu_m[3]);

#endif
