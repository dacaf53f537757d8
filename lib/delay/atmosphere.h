/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The air above a station: weather, and what the troposphere adds to the delay. */
#ifndef WFI_DELAY_ATMOSPHERE_H
#define WFI_DELAY_ATMOSPHERE_H

#include <whitefringe/observation.h>

#include "delay/gpt2.h"
#include "delay/mapping.h"
#include "delay/pressure.h"

/** Start from {0}; release it. */
typedef struct wfi_atmosphere {
    double latitude_rad; /* geodetic */
    double height_m;     /* over the ellipsoid */
    double gmf[WFI_N_GMF];
    double gpt[WFI_N_GPT];
    wfi_gpt2 *gpt2;      /* NULL: not given; else in place of GPT, GMF and a humidity of a half */
    wf_weather *weather; /* [n_weather], ascending */
    size_t n_weather;
    wf_mapping *mapping; /* [n_mapping], ascending */
    size_t n_mapping;
    double zenith_wet_delay_m;
    bool wet_from_weather;
    double gradient_north_m;
    double gradient_east_m;
} wfi_atmosphere;

/** Copies what the station's entry says; the model GPT2 is given apart.
 *
 *  given   gpt2  at the station; NULL: not known
 *  status  OK | MEMORY
 */
wf_status wfi_atmosphere_set(wfi_atmosphere *atmosphere, const wf_station *station,
                             const wfi_gpt2 *gpt2, double longitude_rad, double latitude_rad,
                             double height_m, wf_error *err);
void wfi_atmosphere_release(wfi_atmosphere *atmosphere);

/** Weather at the station: between two records linear, before the first and after the last as
 *  they are. What no record states is that of GPT2, or else of GPT; humidity is then a half. */
typedef struct wfi_weather {
    double pressure_hpa;
    double temperature_c;
    double relative_humidity;
    bool has_pressure; /* of a record */
    bool has_temperature;
    bool has_humidity;
} wfi_weather;

wfi_weather wfi_weather_at(const wfi_atmosphere *atmosphere, wf_instant t);

/** The next record of weather or mapping after t, where the delay has a kink; false: none. */
bool wfi_atmosphere_next_record(const wfi_atmosphere *atmosphere, wf_instant t, wf_instant *next);

/** Below this elevation, 1 degree, the delay is that at it: mapping functions hold above 3. */
extern const double WFI_MAPPING_LOWEST_RAD;

/** What the troposphere adds to the delay of a station. */
typedef struct wfi_troposphere {
    double hydrostatic_s;
    double wet_s;
    double gradients_s;
} wfi_troposphere;

/** given  azimuth_rad, elevation_rad  of the source with aberration, in vacuum */
wfi_troposphere wfi_troposphere_at(const wfi_atmosphere *atmosphere, wf_instant t,
                                   double azimuth_rad, double elevation_rad);

#endif
