/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bands' sums on one lattice of delays and rates, row by row.
 *
 *  Rates belong to each channel's own frequency, so that the same lattice serves all bands, and
 *  delays do not drift within a stretch. Points stand half a resolution apart, or closer. */
#ifndef WFI_FRINGE_LATTICE_H
#define WFI_FRINGE_LATTICE_H

#include "fringe/bands.h"
#include "fringe/climb.h"

typedef struct wfi_lattice wfi_lattice;

/** Dimensions: delay k at first + k step, rate m alike; covers the window. */
typedef struct wfi_lattice_axis {
    double first;
    double step; /* 0 with one point */
    size_t n;
} wfi_lattice_axis;

wf_status wfi_lattice_create(wfi_lattice **out, const wfi_bands *bands, wf_error *err);
void wfi_lattice_destroy(wfi_lattice *lattice);

const wfi_lattice_axis *wfi_lattice_delays(const wfi_lattice *lattice);
const wfi_lattice_axis *wfi_lattice_rates(const wfi_lattice *lattice);

/** One rate's sums of all bands, phases at their middles; to be asked for in ascending order.
 *
 *  returned  row  [bands->n][n_delays]
 */
wf_status wfi_lattice_row(float complex *row, wfi_lattice *lattice, size_t i_rate, wf_error *err);

#endif
