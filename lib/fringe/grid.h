/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Fourier sum of a stretch of visibilities on a grid of delays and rates. */
#ifndef WFI_FRINGE_GRID_H
#define WFI_FRINGE_GRID_H

#include <whitefringe/fringe.h>

/** Sums over time and channel, zero delay and zero rate in the first cell.
 *
 *  sum  [n_rates][n_delays], weight * visibility * exp(+2 pi i (c k / n_delays + t m / n_rates))
 *       for channel c, integration t, delay cell k, rate cell m
 */
typedef struct wfi_grid {
    float complex *sum;
    size_t n_rates;
    size_t n_delays;
} wfi_grid;

/** Number of cells of an axis that is padded well: even, with factors 2, 3 and 5 only; 1 for 1.
 *
 *  given  n_padding  at least so many cells for each of the n inputs
 */
size_t wfi_grid_length(size_t n, size_t n_padding);

/** The grid of an input; release it with wfi_grid_release.
 *
 *  given   n_rates >= n_times, n_delays >= n_channels
 *  status  OK | MEMORY
 */
wf_status wfi_grid_transform(wfi_grid *grid, const wf_fringe_input *input, size_t n_rates,
                             size_t n_delays, wf_error *err);
void wfi_grid_release(wfi_grid *grid);

/** Index of the cell of largest modulus; the first of equal ones. */
size_t wfi_grid_highest(const wfi_grid *grid);

/** Signed position of cell i on a cyclic axis of n cells: -n/2 .. n/2 - 1. */
double wfi_grid_signed(size_t i, size_t n);

/** Median of |sum|^2 over all cells; reorders the cells. */
double wfi_grid_median_power(wfi_grid *grid);

#endif
