/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the Earth is turned: from the terrestrial (ITRS) to the celestial (GCRS) frame. */
#ifndef WFI_DELAY_EARTH_H
#define WFI_DELAY_EARTH_H

#include <whitefringe/time.h>

#include "delay/eop.h"

typedef struct wfi_earth {
    double tt_jd[2];                       /* the instant as a Julian date of TT, in two parts */
    double celestial_to_terrestrial[3][3]; /* r_ITRS = this x r_GCRS */
    double polar_motion[3][3];             /* r_ITRS = this x r in the frame of the spin axis */
    double celestial_to_spin[3][3];        /* of the spin axis and the rotating zero meridian */
} wfi_earth;

/** X and Y of the celestial pole by theory: the costly part of an orientation.
 *
 *  source  IAU 2006/2000A
 */
void wfi_earth_pole(wf_instant t, double pole[2]);

/** given   pole  of wfi_earth_pole at the same instant
 *  source  IERS Conventions (2010) chapter 5: CIO based, with the celestial pole offsets added to
 *          X and Y
 */
void wfi_earth_orient(wfi_earth *out, wf_instant t, const double pole[2],
                      const wfi_eop_values *eop);

/** GCRS position and velocity of a point that turns with the Earth. */
void wfi_earth_carry(const wfi_earth *earth, const double position_itrf_m[3],
                     double position_gcrs_m[3], double velocity_gcrs_m_per_s[3]);

/** And its acceleration. */
void wfi_earth_accelerate(const wfi_earth *earth, const double position_itrf_m[3],
                          double acceleration_gcrs_m_per_s2[3]);

#endif
