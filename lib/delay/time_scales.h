/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Instants as Julian dates in two parts, whole days and the rest: one double of a Julian date
 * would blur the Earth's rotation by 20 mm. */
#ifndef WFI_DELAY_TIME_SCALES_H
#define WFI_DELAY_TIME_SCALES_H

#include <whitefringe/time.h>

/** TT as a Julian date. */
void wfi_tt(wf_instant t, double jd[2]);

/** UT1 as a Julian date. */
void wfi_ut1(wf_instant t, double ut1_minus_tai_s, double jd[2]);

/** Julian centuries of TT, or TDB, after J2000. */
double wfi_centuries(const double tt_jd[2]);

#endif
