/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks of the stations from the fringes of their baselines. */
#ifndef WFI_SEARCH_CLOCKS_H
#define WFI_SEARCH_CLOCKS_H

#include <whitefringe/delay.h>
#include <whitefringe/search.h>

/** How far the clocks that were tried are off.
 *
 *  delay_s, rate_s_per_s  [n_stations] solved where fringes connect a station with the reference
 */
typedef struct wfi_clock_solution {
    wf_station_value *delay_s;
    wf_station_value *rate_s_per_s;
    double *delay_residual_sigma; /* [n_baselines] (measured - solution) / error */
    double *rate_residual_sigma;
    double delay_chi2;
    double rate_chi2;
} wfi_clock_solution;

/** status  as wf_fringe_solve */
wf_status wfi_clocks_solve(wfi_clock_solution *out, const wf_search_baseline *baselines,
                           size_t n_baselines, size_t n_stations, size_t i_reference,
                           wf_error *err);
void wfi_clock_solution_release(wfi_clock_solution *solution);

/** A clock with its reference moved to `middle`, and mended.
 *
 *  The fringe says how far the clock is off when the wave of `middle` arrives, tau_s later; a clock
 *  counts from its reference.
 */
wf_clock wfi_clock_mended(const wf_clock *clock, wf_instant middle, double tau_s, double delay_s,
                          double rate_s_per_s);

/** The delay that belongs to a fringe as the clocks say it: the multi-band one, unless it might
 *  have caught a wrong ambiguity. */
wf_fringe_measure wfi_clock_measure(const wf_search_baseline *baseline);

#endif
