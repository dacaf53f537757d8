/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job cut down to one stretch of one scan, with the channels and integrations that a window of
 * delays and rates asks for. */
#ifndef WFI_SEARCH_TRIAL_H
#define WFI_SEARCH_TRIAL_H

#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/observation.h>

/** What is to be tried.
 *
 *  stations  [n_stations] who takes part
 *  clocks    [n_stations] in place of the job's
 */
typedef struct wfi_trial_setup {
    size_t i_scan;
    wf_time_span span;     /* within the scan; its middle is taken */
    double length_s;       /* as much of it as the span and memory hold */
    double window_delay_s; /* half-widths of what is looked for */
    double window_rate_s_per_s;
    const bool *stations;
    const wf_clock *clocks;
    const int64_t *sample_rates_hz; /* [n_recordings] */
    const wf_product *products;     /* [n_products] */
    size_t n_products;
    bool first_band_only; /* a coarse look */
} wfi_trial_setup;

/** observation  borrows what is not replaced from the job's; its only scan is the stretch, `scan`
 *               here: a trial stays where it was made
 *  n_times      whole integrations
 *  window_*     as asked, or what memory and set-up allow
 */
typedef struct wfi_trial {
    wf_observation observation;
    wf_station *stations;
    wf_scan scan;
    size_t n_times;
    double window_delay_s;
    double window_rate_s_per_s;
} wfi_trial;

/** Visibilities of a trial, all baselines together, bytes. */
extern const size_t wfi_trial_bytes_max;

/** status  OK | RANGE: the span is shorter than a segment | MEMORY */
wf_status wfi_trial_create(wfi_trial *out, const wf_observation *observation,
                           const wfi_trial_setup *setup, wf_error *err);
void wfi_trial_release(wfi_trial *trial);

/** The middle of its time. */
wf_instant wfi_trial_middle(const wfi_trial *trial);

/** How many of [n_stations] are true. */
size_t wfi_count_stations(const bool *stations, size_t n_stations);

/** The widest half-width of delays that one trial of a span can look for, at most window_delay_s.
 */
double wfi_trial_widest_delay_s(const wf_observation *observation, double window_delay_s,
                                double span_s, bool is_coarse);

#endif
