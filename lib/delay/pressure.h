/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pressure, temperature and what they do to a radio wave above a station. */
#ifndef WFI_DELAY_PRESSURE_H
#define WFI_DELAY_PRESSURE_H

#include "delay/mapping.h"

/** Columns of the table of GPT. */
enum {
    WFI_GPT_GEOID,
    WFI_GPT_PRESSURE_MEAN,
    WFI_GPT_PRESSURE_AMPLITUDE,
    WFI_GPT_TEMPERATURE_MEAN,
    WFI_GPT_TEMPERATURE_AMPLITUDE,
    WFI_N_GPT
};
extern const wfi_harmonic wfi_gpt_harmonics[WFI_N_HARMONICS][WFI_N_GPT];

/** The usual pressure and temperature at a place and date: Global Pressure and Temperature.
 *
 *  given   gpt       [WFI_N_GPT] sums of wfi_gpt_harmonics at the station
 *          height_m  over the ellipsoid
 *  source  Boehm, Heinkelmann, Schuh 2007, J. Geodesy 81, 679; IERS Conventions (2010) routine GPT
 */
void wfi_gpt(const double gpt[WFI_N_GPT], double height_m, double mjd, double *pressure_hpa,
             double *temperature_c);

/** Pressure of vapour over water that is saturated with it.
 *
 *  source  Magnus (World Meteorological Organization, guide no. 8: 6.112 hPa, 17.62, 243.12 deg C)
 */
double wfi_saturation_hpa(double temperature_c);

/** Zenith delays, m.
 *
 *  given   latitude_rad, height_m  geodetic
 *          relative_humidity       0 to 1
 *  source  hydrostatic: Saastamoinen 1972; Davis et al. 1985, Radio Sci. 20, 1593; IERS Conventions
 *          (2010) eq. 9.4. Wet: Saastamoinen 1972, with the vapour pressure of saturation above
 */
double wfi_zenith_hydrostatic_m(double pressure_hpa, double latitude_rad, double height_m);
double wfi_zenith_wet_m(double temperature_c, double relative_humidity, double latitude_rad,
                        double height_m);

#endif
