/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a good clock and a mean atmosphere leave: curves to hold Allan deviations against. */
#include <whitefringe/stability.h>

#include <math.h>

#include "delay/constants.h"

/* A hydrogen maser, common practice: white phase and white frequency at 1 s, flicker floor. */
static const double MASER_WHITE_PHASE = 1e-13;
static const double MASER_WHITE_FREQUENCY = 5e-14;
static const double MASER_FLOOR = 1e-15;

/* Treuhaft and Lanyi 1987, from memory. */
static const double TURBULENCE_PER_CBRT_M = 2.4e-7;
static const double LAYER_M = 2000;
static const double WIND_M_PER_S = 8;
enum { N_STEPS = 256 }; /* even */

double wf_maser_allan_deviation(double tau_s)
{
    const double white_phase = MASER_WHITE_PHASE / tau_s;
    const double white_frequency = MASER_WHITE_FREQUENCY / sqrt(tau_s);
    return sqrt(white_phase * white_phase + white_frequency * white_frequency +
                MASER_FLOOR * MASER_FLOOR);
}

/* Structure function of the zenith path, m^2, of two paths `apart_m` from each other:
 * 2 C^2 integral over 0..h of (h - z) ((d^2 + z^2)^(1/3) - z^(2/3)) dz, by Simpson's rule in v,
 * z = d sinh v^3: smooth at the ground and from the scale d to the layer's top. */
static double path_structure_m2(double apart_m)
{
    const double v_top = cbrt(asinh(LAYER_M / apart_m));
    double sum = 0;
    for (int i = 0; i <= N_STEPS; i++) {
        const double v = v_top * i / N_STEPS;
        const double z = apart_m * sinh(v * v * v);
        const double slant = apart_m * cosh(v * v * v);
        const double value =
            (LAYER_M - z) * (cbrt(slant * slant) - cbrt(z * z)) * slant * 3 * v * v;
        const double weight = i == 0 || i == N_STEPS ? 1 : i % 2 == 1 ? 4 : 2;
        sum += weight * value;
    }
    return 2 * TURBULENCE_PER_CBRT_M * TURBULENCE_PER_CBRT_M * sum * v_top / (3.0 * N_STEPS);
}

double wf_atmosphere_allan_deviation(double tau_s)
{
    const double apart_m = WIND_M_PER_S * tau_s;
    const double second_difference_m2 =
        4 * path_structure_m2(apart_m) - path_structure_m2(2 * apart_m);
    return sqrt(second_difference_m2 / 2) / (WFI_SPEED_OF_LIGHT_M_PER_S * tau_s);
}
