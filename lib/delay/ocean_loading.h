/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the ocean's tides press a station down and aside. */
#ifndef WFI_DELAY_OCEAN_LOADING_H
#define WFI_DELAY_OCEAN_LOADING_H

#include "delay/blq.h"
#include "delay/ocean_loading_table.h"
#include "delay/solid_tide.h"

/** A station's response to every line of the tide, in m: component = sum over lines of
 *  in_phase * cos(argument) + quadrature * sin(argument); east, north, up. */
typedef struct wfi_ocean_loading {
    double in_phase_m[3][WFI_N_OCEAN_LOADING_LINES];
    double quadrature_m[3][WFI_N_OCEAN_LOADING_LINES];
} wfi_ocean_loading;

/** From the eleven main waves to 342 lines: the admittance, wave over equilibrium tide, is smooth
 * in frequency within each species and is interpolated, as a complex number, by splines.
 *
 *  source  IERS Conventions (2010), section 7.1.2: the method of D. Agnew's software
 */
void wfi_ocean_loading_set(wfi_ocean_loading *out, const wfi_blq_station *station);

/** Cosine and sine of the lines' arguments, for all stations. */
typedef struct wfi_ocean_phases {
    double cosine[WFI_N_OCEAN_LOADING_LINES];
    double sine[WFI_N_OCEAN_LOADING_LINES];
} wfi_ocean_phases;

void wfi_ocean_phases_at(wfi_ocean_phases *out, wfi_tidal_time time);

/** Displacement east, north, up (geodetic), m. */
void wfi_ocean_loading_at(const wfi_ocean_loading *loading, const wfi_ocean_phases *phases,
                          double enu_m[3]);

#endif
