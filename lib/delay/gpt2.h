/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual air at a place and date: Global Pressure and Temperature 2. */
#ifndef WFI_DELAY_GPT2_H
#define WFI_DELAY_GPT2_H

#include "delay/mapping.h"

/** A mean, and what a year and half a year add, from noon of 1 January 2000 on. */
typedef struct wfi_gpt2_season {
    double mean, year_cos, year_sin, half_cos, half_sin;
} wfi_gpt2_season;

/** The model at one point of its grid, at the height of the grid's ground. */
typedef struct wfi_gpt2_point {
    wfi_gpt2_season pressure_pa;
    wfi_gpt2_season temperature_k;
    wfi_gpt2_season humidity_g_per_kg; /* specific */
    wfi_gpt2_season lapse_k_per_km;
    double geoid_m;  /* over the ellipsoid */
    double ground_m; /* over the geoid */
    wfi_gpt2_season hydrostatic_a_1e3;
    wfi_gpt2_season wet_a_1e3;
} wfi_gpt2_point;

enum { WFI_GPT2_CORNERS = 4 };

/** The model at a station: the points of the grid around it. */
typedef struct wfi_gpt2 {
    wfi_gpt2_point corner[WFI_GPT2_CORNERS];
    double weight[WFI_GPT2_CORNERS]; /* they sum to 1 */
} wfi_gpt2;

typedef struct wfi_gpt2_air {
    double pressure_hpa;
    double temperature_c;
    double lapse_k_per_km;
    double vapour_hpa;
    double geoid_m;
    wfi_mapping_a a; /* of VMF1's functions, at zero height */
} wfi_gpt2_air;

/** given   height_m  over the ellipsoid
 *  source  Lagler, Schindelegger, Boehm, Krasna, Nilsson 2013, Geophys. Res. Lett. 40, 1069; IERS
 *          Conventions (2010) routine GPT2
 */
wfi_gpt2_air wfi_gpt2_at(const wfi_gpt2 *gpt2, double height_m, double mjd);

#endif
