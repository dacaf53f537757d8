/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Earth's figure follows the wandering pole: displacements of solid Earth and ocean. */
#include "delay/pole_tide.h"

#include <erfam.h>
#include <math.h>

#include "delay/constants.h"

/* Years of 365.25 days since 2000.0, here MJD 51544.5 (TT); what UTC differs is 1e-6 mas. */
static double years_since_2000(wf_instant t)
{
    return (wf_instant_difference_s(t, wf_instant_of_mjd(51544)) - WFI_DAY_S / 2.0) /
           WFI_JULIAN_YEAR_S;
}

/* IERS Conventions (2010), update of 2018, eq. 21; mas. */
static void secular_pole_2018(double years, double pole_mas[2])
{
    pole_mas[0] = 55.0 + 1.677 * years;
    pole_mas[1] = 320.5 + 3.460 * years;
}

static double cubic(const double c[4], double x)
{
    return c[0] + x * (c[1] + x * (c[2] + x * c[3]));
}

/* IERS Conventions (2010), table 7.7: a cubic until 2010.0, a line since; mas. */
static void mean_pole_2010(double years, double pole_mas[2])
{
    static const double x[2][4] = {{55.974, 1.8243, 0.18413, 0.007024}, {23.513, 7.6141, 0, 0}};
    static const double y[2][4] = {{346.346, 1.7896, -0.10729, -0.000908},
                                   {358.891, -0.6287, 0, 0}};
    const int part = years < 10.0 ? 0 : 1;
    pole_mas[0] = cubic(x[part], years);
    pole_mas[1] = cubic(y[part], years);
}

wfi_wobble wfi_wobble_of(wf_pole_tide_reference reference, wf_instant t, double pole_x_rad,
                         double pole_y_rad)
{
    double pole_mas[2];
    if (reference == WF_POLE_TIDE_MEAN_2010)
        mean_pole_2010(years_since_2000(t), pole_mas);
    else
        secular_pole_2018(years_since_2000(t), pole_mas);
    return (wfi_wobble){pole_x_rad - pole_mas[0] * ERFA_DMAS2R,
                        -(pole_y_rad - pole_mas[1] * ERFA_DMAS2R)};
}

/* Metres for a wobble of one arcsecond. */
static const double RADIAL_M = -0.033, TRANSVERSE_M = 0.009;

void wfi_pole_tide(const wfi_local_frame *frame, wfi_wobble wobble, double enu_m[3])
{
    const double sin_longitude = -frame->east[0], cos_longitude = frame->east[1];
    const double sin_latitude = frame->up[2], cos_latitude = frame->north[2];
    const double m1 = wobble.m1_rad * ERFA_DR2AS, m2 = wobble.m2_rad * ERFA_DR2AS;
    const double along = m1 * cos_longitude + m2 * sin_longitude;
    const double across = m1 * sin_longitude - m2 * cos_longitude;
    /* with the colatitude's sine and cosine; the equation's second component points south */
    enu_m[0] = TRANSVERSE_M * sin_latitude * across;
    enu_m[1] = TRANSVERSE_M * (sin_latitude * sin_latitude - cos_latitude * cos_latitude) * along;
    enu_m[2] = RADIAL_M * 2.0 * sin_latitude * cos_latitude * along;
}

/* Eq. 7.29: K = 4 pi G a rho_w H_p / (3 g), H_p = sqrt(8 pi / 15) Omega^2 a^4 / GM; gamma_2 = 1 +
 * k_2 - h_2 = 0.6870 + 0.0036 i. */
static double ocean_scale_m(void)
{
    const double gravitation = 6.67428e-11; /* m^3/(kg s^2), table 1.1 */
    const double omega = 7.292115e-5;       /* rad/s, table 1.2 */
    const double water = 1025.0;            /* kg/m^3, section 7.1.5 */
    const double gravity = 9.7803278;       /* m/s^2 at the equator, table 1.1 */
    const double a = WFI_EARTH_RADIUS_M;
    const double h_p_m =
        sqrt(8.0 * ERFA_DPI / 15.0) * omega * omega * a * a * a * a / WFI_GM_EARTH_M3_PER_S2;
    return 4.0 * ERFA_DPI * gravitation * a * water * h_p_m / (3.0 * gravity);
}

static const double GAMMA_REAL = 0.6870, GAMMA_IMAGINARY = 0.0036;

void wfi_ocean_pole_tide(const wf_ocean_pole_tide *coefficients, wfi_wobble wobble, double enu_m[3])
{
    const double real = wobble.m1_rad * GAMMA_REAL + wobble.m2_rad * GAMMA_IMAGINARY;
    const double imaginary = wobble.m2_rad * GAMMA_REAL - wobble.m1_rad * GAMMA_IMAGINARY;
    const double scale_m = ocean_scale_m();
    /* the coefficients are in the order radial, north, east */
    for (int i = 0; i < 3; i++)
        enu_m[2 - i] =
            scale_m * (real * coefficients->real[i] + imaginary * coefficients->imaginary[i]);
}
