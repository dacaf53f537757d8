/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phases with noise of a power-law spectrum, and the fringes that they turn. */
#ifndef TESTS_UNIT_FRINGE_POWER_LAW_H
#define TESTS_UNIT_FRINGE_POWER_LAW_H

#include <stdlib.h>
#include <whitefringe/stability.h>

#include "invented.h"

static inline double power_law_normal(uint64_t seed, uint64_t counter)
{
    return sqrt(-2 * log(invented_uniform(seed, 2 * counter))) *
           cos(2 * INVENTED_PI * invented_uniform(seed, 2 * counter + 1));
}

/** Noise of a spectrum ~ f^-exponent: white noise of unit variance through the filter
 *  (1 - z^-1)^(-exponent/2), h_k = h_{k-1} (exponent/2 + k - 1) / k. Its one-sided spectrum is
 *  2 dt (2 sin(pi f dt))^-exponent, for low f 2 dt (2 pi f dt)^-exponent.
 *  Source: Kasdin and Walter 1992, "Discrete simulation of power law noise", 46th Freq. Control
 *  Symp., eqs. (21) to (25) (numbers from memory). */
static inline void power_law_fill(double *out, size_t n, double exponent, uint64_t seed)
{
    double *white = calloc(n, sizeof *white);
    double *filter = calloc(n, sizeof *filter);
    filter[0] = 1;
    for (size_t k = 1; k < n; k++)
        filter[k] = filter[k - 1] * (0.5 * exponent + (double)k - 1) / (double)k;
    for (size_t t = 0; t < n; t++)
        white[t] = power_law_normal(seed, t);
    for (size_t t = 0; t < n; t++) {
        out[t] = 0;
        for (size_t k = 0; k <= t; k++)
            out[t] += filter[k] * white[t - k];
    }
    free(white);
    free(filter);
}

typedef struct invented_series {
    wf_fringe_series series;
    double complex *fringe;
    double *sigma;
} invented_series;

/** A fringe of amplitude 1 with those phases, noise sigma in each component added. */
static inline invented_series invented_series_create(const double *phase_rad, size_t n,
                                                     double sigma, uint64_t seed)
{
    invented_series out = {.series = {.n_times = n, .interval_s = 1, .frequency_hz = 8.4e9}};
    out.fringe = calloc(n, sizeof *out.fringe);
    out.sigma = calloc(n, sizeof *out.sigma);
    for (size_t t = 0; t < n; t++) {
        out.fringe[t] =
            cos(phase_rad[t]) + I * sin(phase_rad[t]) +
            sigma * (power_law_normal(seed, 2 * t) + I * power_law_normal(seed, 2 * t + 1));
        out.sigma[t] = sigma;
    }
    out.series.fringe = out.fringe;
    out.series.sigma = out.sigma;
    return out;
}

static inline void invented_series_destroy(invented_series *series)
{
    free(series->fringe);
    free(series->sigma);
}

#endif
