/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Zonal tides in UT1, of 5 days to 18.6 years: too fast to be interpolated between daily values. */
#ifndef WFI_DELAY_ZONAL_TIDES_H
#define WFI_DELAY_ZONAL_TIDES_H

#include <stdint.h>

typedef struct wfi_zonal_tide_line {
    int8_t multiplier[5];    /* of l, l', F, D, Omega */
    double ut1_sin, ut1_cos; /* 1e-4 s */
} wfi_zonal_tide_line;

enum { WFI_N_ZONAL_TIDE_LINES = 62 };
extern const wfi_zonal_tide_line wfi_zonal_tide_lines[WFI_N_ZONAL_TIDE_LINES];

/** UT1 - UT1R, s, t Julian centuries of TDB after J2000.
 *
 *  source  IERS Conventions (2010) section 8.1, table 8.1
 */
double wfi_zonal_tides_s(double t);

#endif
