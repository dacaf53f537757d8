/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise that all stations have in common: what a point of the sky sends in one range of sky
 * frequency and one hand.
 *
 *  s(t) = a(t) exp(2 pi i carrier_hz t), t geocentre time; a(t) is complex Gaussian noise, made at
 *  a grid of grid_hz samples a second, number 0 at 2000-01-01T00:00:00 UTC. Any stretch of it is
 *  made on its own, always the same.
 */
#ifndef WFI_SIMULATE_COMMON_NOISE_H
#define WFI_SIMULATE_COMMON_NOISE_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

/** Transform, window and scratch for blocks of noise; one per thread of the program. */
typedef struct wfi_noise_bench wfi_noise_bench;

/** given  n_block  grid points of a block, a power of two, at least 64. The edges of the noise's
 *                  band are sharp to grid_hz/n_block. */
wf_status wfi_noise_bench_create(wfi_noise_bench **out, size_t n_block, wf_error *err);
void wfi_noise_bench_destroy(wfi_noise_bench *bench);

/** A spectral line: profile exp(-4 ln 2 ((nu - centre_hz)/width_hz)^2), its peak 1. */
typedef struct wfi_line {
    double centre_hz;
    double width_hz; /* full width at half maximum */
} wfi_line;

typedef struct wfi_noise_recipe {
    double low_hz; /* range of sky frequency */
    double high_hz;
    const wfi_line *line;     /* NULL: a flat spectrum, profile 1 */
    uint64_t seed;            /* of the sky */
    uint64_t identity;        /* of this noise among all of the sky: below 2^62 */
    int hand;                 /* 0 or 1: hands of one identity differ */
    double complex coherence; /* <hand 0 conj(hand 1)> of unit variances */
} wfi_noise_recipe;

typedef struct wfi_noise wfi_noise;

/** given  bench  outlives the noise */
wf_status wfi_noise_create(wfi_noise **out, wfi_noise_bench *bench, const wfi_noise_recipe *recipe,
                           wf_error *err);
void wfi_noise_destroy(wfi_noise *noise);

int64_t wfi_noise_grid_hz(const wfi_noise *noise);
double wfi_noise_carrier_hz(const wfi_noise *noise);

/** Mean of the profile over the range: the variance of a(t), between 0 and 1. */
double wfi_noise_variance(const wfi_noise *noise);

/** Mean of a recipe's profile over its range, by its integral in closed form. */
double wfi_line_mean(const wfi_line *line, double low_hz, double high_hz);

/** Grid points [first, first + n); borrowed until the next call.
 *
 *  given  n  at most half a block
 */
const float complex *wfi_noise_get(wfi_noise *noise, int64_t first, size_t n);

#endif
