/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fringe in time: what its users share. */
#ifndef WFI_FRINGE_SERIES_H
#define WFI_FRINGE_SERIES_H

#include <math.h>
#include <whitefringe/stability.h>

/** Noise that is 0 is that of a simulation: valid. */
static inline bool wfi_series_valid(const wf_fringe_series *series, size_t t)
{
    return isfinite(series->sigma[t]) && series->sigma[t] >= 0;
}

size_t wfi_series_n_valid(const wf_fringe_series *series);

/** An empty series, all zero. */
wf_status wfi_series_create(wf_fringe_series **out, size_t n_times, wf_error *err);

/** Weight of an integration in means: 1 / sigma^2, relative to the heaviest; 0 where invalid. Where
 *  a valid integration has no noise at all, valid ones count alike. */
void wfi_series_weights(double *weight, const wf_fringe_series *series);

#endif
