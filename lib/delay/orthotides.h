/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ocean tides in the Earth's rotation as the IERS Conventions (2010) had them, to reproduce what
 * was computed by them; Desai and Sibois (subdaily.h) are better. */
#ifndef WFI_DELAY_ORTHOTIDES_H
#define WFI_DELAY_ORTHOTIDES_H

#include "delay/subdaily.h"

typedef struct wfi_orthotide_line {
    int order; /* 1: diurnal, 2: semi-diurnal */
    double height_mm;
    double phase_rad; /* at 1960-01-01 12h, MJD 37076.5 */
    double rate_rad_per_day;
} wfi_orthotide_line;

enum { WFI_N_ORTHOTIDE_LINES = 71, WFI_N_ORTHOTIDES = 12 };
extern const wfi_orthotide_line wfi_orthotide_lines[WFI_N_ORTHOTIDE_LINES];
extern const double wfi_orthotide_factors[2][6];
extern const double wfi_orthotide_weights[WFI_N_ORTHOTIDES][3];

/** The partial derivatives of routine CNMTX at a modified Julian date of UT1. */
void wfi_orthotide_partials(double mjd, double partial[WFI_N_ORTHOTIDES]);

/** source  IERS Conventions (2010) section 8.2 */
wfi_rotation_shift wfi_orthotides(double mjd);

#endif
