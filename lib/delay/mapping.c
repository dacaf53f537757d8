/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mapping functions of the troposphere. */
#include "delay/mapping.h"

#include <erfam.h>
#include <math.h>

enum { DEGREE = 9 };

/* P_nm(sin latitude), by the recurrences in n from P_mm = (2m - 1)!! cos^m. */
static void legendre(double latitude_rad, double p[DEGREE + 1][DEGREE + 1])
{
    const double s = sin(latitude_rad), c = cos(latitude_rad);
    double diagonal = 1.0;
    for (int m = 0; m <= DEGREE; m++) {
        p[m][m] = diagonal;
        if (m < DEGREE)
            p[m + 1][m] = s * (2 * m + 1) * diagonal;
        for (int n = m + 2; n <= DEGREE; n++)
            p[n][m] = ((2 * n - 1) * s * p[n - 1][m] - (n + m - 1) * p[n - 2][m]) / (n - m);
        diagonal *= (2 * m + 1) * c;
    }
}

void wfi_harmonic_sums(const wfi_harmonic *table, int n_columns, double latitude_rad,
                       double longitude_rad, double *out)
{
    double p[DEGREE + 1][DEGREE + 1];
    legendre(latitude_rad, p);
    for (int k = 0; k < n_columns; k++)
        out[k] = 0.0;
    for (int n = 0; n <= DEGREE; n++) {
        for (int m = 0; m <= n; m++) {
            const double c = p[n][m] * cos(m * longitude_rad);
            const double s = p[n][m] * sin(m * longitude_rad);
            for (int k = 0; k < n_columns; k++, table++)
                out[k] += table->cos * c + table->sin * s;
        }
    }
}

double wfi_season_rad(double mjd)
{
    /* MJD 44239 is 1980-01-01 */
    return (mjd - 44239.0 + 1.0 - 28.0) / 365.25 * ERFA_D2PI;
}

wfi_mapping_a wfi_gmf_a(const double gmf[WFI_N_GMF], double mjd)
{
    const double season = cos(wfi_season_rad(mjd));
    return (wfi_mapping_a){
        (gmf[WFI_GMF_HYDROSTATIC_MEAN] + gmf[WFI_GMF_HYDROSTATIC_AMPLITUDE] * season) * 1e-5,
        (gmf[WFI_GMF_WET_MEAN] + gmf[WFI_GMF_WET_AMPLITUDE] * season) * 1e-5};
}

/* Marini's continued fraction, 1 at the zenith. */
static double fraction(double a, double b, double c, double sin_elevation)
{
    const double s = sin_elevation;
    return (1.0 + a / (1.0 + b / (1.0 + c))) / (s + a / (s + b / (s + c)));
}

double wfi_map_hydrostatic(double a, double mjd, double latitude_rad, double height_m,
                           double elevation_rad)
{
    const double s = sin(elevation_rad);
    const int south = latitude_rad < 0.0;
    const double c11 = south ? 0.007 : 0.005;
    const double c10 = south ? 0.002 : 0.001;
    const double season = cos(wfi_season_rad(mjd) + (south ? ERFA_DPI : 0.0));
    const double c = 0.062 + ((season + 1.0) * c11 / 2.0 + c10) * (1.0 - cos(latitude_rad));
    const double height = 1.0 / s - fraction(2.53e-5, 5.49e-3, 1.14e-3, s);
    return fraction(a, 0.0029, c, s) + height * height_m / 1000.0;
}

double wfi_map_wet(double a, double elevation_rad)
{
    return fraction(a, 0.00146, 0.04391, sin(elevation_rad));
}

double wfi_map_gradient(double elevation_rad)
{
    return 1.0 / (sin(elevation_rad) * tan(elevation_rad) + 0.0032);
}
