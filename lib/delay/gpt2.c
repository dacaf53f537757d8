/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual air at a place and date: Global Pressure and Temperature 2. */
#include "delay/gpt2.h"

#include <erfam.h>
#include <math.h>

static const double KELVIN = 273.15;

/* Gravity, molar mass of dry air and gas constant of the model: its pressure falls off by them. */
static const double GRAVITY_M_PER_S2 = 9.80665;
static const double DRY_AIR_KG_PER_MOL = 28.965e-3;
static const double GAS_J_PER_K_MOL = 8.3143;

/* Vapour is lighter than air by the first, takes the second of virtual temperature. */
static const double VAPOUR_TO_AIR = 0.622;
static const double VIRTUAL = 0.6077;

typedef struct phases {
    double year_cos, year_sin, half_cos, half_sin;
} phases;

static phases phases_at(double mjd)
{
    const double year = (mjd - 51544.5) / 365.25 * ERFA_D2PI;
    return (phases){cos(year), sin(year), cos(2.0 * year), sin(2.0 * year)};
}

static double value_at(const wfi_gpt2_season *s, const phases *p)
{
    return s->mean + s->year_cos * p->year_cos + s->year_sin * p->year_sin +
           s->half_cos * p->half_cos + s->half_sin * p->half_sin;
}

/* A grid point's air, brought to the station's height; its vapour is left to the sum. */
static wfi_gpt2_air air_over(const wfi_gpt2_point *point, double height_m, double humidity,
                             const phases *p)
{
    const double above_ground_m = height_m - point->geoid_m - point->ground_m;
    const double ground_k = value_at(&point->temperature_k, p);
    const double lapse_k_per_km = value_at(&point->lapse_k_per_km, p);
    const double virtual_k = ground_k * (1.0 + VIRTUAL * humidity);
    const double falls_per_m =
        GRAVITY_M_PER_S2 * DRY_AIR_KG_PER_MOL / (GAS_J_PER_K_MOL * virtual_k);
    return (wfi_gpt2_air){
        .pressure_hpa =
            value_at(&point->pressure_pa, p) * exp(-falls_per_m * above_ground_m) / 100.0,
        .temperature_c = ground_k + lapse_k_per_km * 1e-3 * above_ground_m - KELVIN,
        .lapse_k_per_km = lapse_k_per_km,
        .geoid_m = point->geoid_m,
        .a = {value_at(&point->hydrostatic_a_1e3, p) * 1e-3, value_at(&point->wet_a_1e3, p) * 1e-3},
    };
}

wfi_gpt2_air wfi_gpt2_at(const wfi_gpt2 *gpt2, double height_m, double mjd)
{
    const phases p = phases_at(mjd);
    wfi_gpt2_air sum = {0};
    double mean_humidity = 0.0;
    for (int i = 0; i < WFI_GPT2_CORNERS; i++) {
        const double w = gpt2->weight[i];
        const double humidity = value_at(&gpt2->corner[i].humidity_g_per_kg, &p) * 1e-3;
        const wfi_gpt2_air one = air_over(&gpt2->corner[i], height_m, humidity, &p);
        sum.pressure_hpa += w * one.pressure_hpa;
        sum.temperature_c += w * one.temperature_c;
        sum.lapse_k_per_km += w * one.lapse_k_per_km;
        sum.geoid_m += w * one.geoid_m;
        sum.a.hydrostatic += w * one.a.hydrostatic;
        sum.a.wet += w * one.a.wet;
        mean_humidity += w * humidity;
    }
    sum.vapour_hpa =
        mean_humidity * sum.pressure_hpa / (VAPOUR_TO_AIR + (1.0 - VAPOUR_TO_AIR) * mean_humidity);
    return sum;
}
