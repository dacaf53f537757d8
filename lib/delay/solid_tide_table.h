/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Corrections of the solid Earth tide that depend on frequency. */
#ifndef WFI_DELAY_SOLID_TIDE_TABLE_H
#define WFI_DELAY_SOLID_TIDE_TABLE_H

enum { WFI_N_SOLID_TIDE_DIURNAL = 31, WFI_N_SOLID_TIDE_LONG_PERIOD = 5 };

typedef struct wfi_solid_tide_line {
    signed char multiplier[5]; /* of s, h, p, N', ps; that of tau is 1 in the diurnal band, else 0 */
    double radial_in_phase_mm;
    double radial_out_of_phase_mm;
    double transverse_in_phase_mm;
    double transverse_out_of_phase_mm;
} wfi_solid_tide_line;

extern const wfi_solid_tide_line WFI_SOLID_TIDE_DIURNAL[WFI_N_SOLID_TIDE_DIURNAL];
extern const wfi_solid_tide_line WFI_SOLID_TIDE_LONG_PERIOD[WFI_N_SOLID_TIDE_LONG_PERIOD];

#endif
