/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pressure and temperature above a station, and the delays in the zenith. */
#include "delay/pressure.h"

#include <math.h>

static const double KELVIN = 273.15;

void wfi_gpt(const double gpt[WFI_N_GPT], double height_m, double mjd, double *pressure_hpa,
             double *temperature_c)
{
    const double season = cos(wfi_season_rad(mjd));
    const double over_geoid_m = height_m - gpt[WFI_GPT_GEOID];
    const double pressure_0 = gpt[WFI_GPT_PRESSURE_MEAN] + gpt[WFI_GPT_PRESSURE_AMPLITUDE] * season;
    const double temperature_0 =
        gpt[WFI_GPT_TEMPERATURE_MEAN] + gpt[WFI_GPT_TEMPERATURE_AMPLITUDE] * season;
    *pressure_hpa = pressure_0 * pow(1.0 - 2.26e-5 * over_geoid_m, 5.225);
    *temperature_c = temperature_0 - 0.0065 * over_geoid_m;
}

/* Gravity at the centre of the air column over its mean on the Earth. */
static double gravity(double latitude_rad, double height_m)
{
    return 1.0 - 0.00266 * cos(2.0 * latitude_rad) - 0.28e-6 * height_m;
}

double wfi_zenith_hydrostatic_m(double pressure_hpa, double latitude_rad, double height_m)
{
    return 0.0022768 * pressure_hpa / gravity(latitude_rad, height_m);
}

double wfi_saturation_hpa(double temperature_c)
{
    return 6.112 * exp(17.62 * temperature_c / (243.12 + temperature_c));
}

double wfi_zenith_wet_m(double temperature_c, double relative_humidity, double latitude_rad,
                        double height_m)
{
    const double vapour_hpa = relative_humidity * wfi_saturation_hpa(temperature_c);
    return 0.0022768 * (1255.0 / (temperature_c + KELVIN) + 0.05) * vapour_hpa /
           gravity(latitude_rad, height_m);
}
