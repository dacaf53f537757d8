/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Variations of the Earth's rotation within a day, which daily series do not hold. */
#ifndef WFI_DELAY_SUBDAILY_H
#define WFI_DELAY_SUBDAILY_H

#include <stddef.h>
#include <stdint.h>

/** What is added to the pole and UT1. */
typedef struct wfi_rotation_shift {
    double pole_x_rad;
    double pole_y_rad;
    double ut1_s;
} wfi_rotation_shift;

/** One tide: multipliers of GMST + pi, l, l', F, D, Omega, and what it does to x, y (microarcsec)
 *  and UT1 (us). */
typedef struct wfi_subdaily_line {
    int8_t multiplier[6];
    double pole_x_sin, pole_x_cos;
    double pole_y_sin, pole_y_cos;
    double ut1_sin, ut1_cos;
} wfi_subdaily_line;

enum { WFI_N_DESAI_SIBOIS_LINES = 159, WFI_N_LIBRATION_LINES = 21 };
extern const wfi_subdaily_line wfi_desai_sibois_lines[WFI_N_DESAI_SIBOIS_LINES];
extern const wfi_subdaily_line wfi_libration_lines[WFI_N_LIBRATION_LINES];

/** Delaunay's arguments l, l', F, D, Omega, rad, t Julian centuries of TDB after J2000.
 *
 *  source  IERS Conventions (2010) eq. 5.43 (Simon et al. 1994)
 */
void wfi_delaunay_arguments(double t, double argument[5]);

/** GMST + pi and Delaunay's arguments, rad, at the two-part Julian dates of one instant. */
void wfi_tidal_arguments(const double ut1_jd[2], const double tt_jd[2], double argument[6]);

/** Sum of n lines. Ocean tides: the lines of Desai and Sibois; libration: those of the IERS
 *  Conventions (2010), tables 5.1a (diurnal) and 5.1b. */
wfi_rotation_shift wfi_subdaily_sum(const wfi_subdaily_line *lines, size_t n,
                                    const double argument[6]);

#endif
