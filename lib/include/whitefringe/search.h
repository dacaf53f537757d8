/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The test scan: where are the fringes, and what are the stations' clocks? */
#ifndef WHITEFRINGE_SEARCH_H
#define WHITEFRINGE_SEARCH_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/fringe_fit.h>
#include <whitefringe/observation.h>
#include <whitefringe/run.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

/** 0 and NULL take what stands behind the colon. */
typedef struct wf_search_options {
    const char *scan_name;      /* the longest of those that most stations observe */
    const char *reference_name; /* whose clock stays: the station with the strongest fringes */
    double window_delay_s;      /* half-width of clock errors to look for: 100e-6 */
    double window_rate_s_per_s; /* the same for rates: 1e-10 */
    double false_alarm;         /* probability that noise of a baseline counts as a fringe: 1e-6 */
    double longest_s;           /* of the scan, to be correlated at once: 10 */
    int n_threads;              /* as many as the machine has cores */
    bool keep_going;
    const char *kernels;
    wf_progress_sink progress;
    wf_warn warn;
    void *context; /* of both sinks */
} wf_search_options;

#define WF_SEARCH_WINDOW_DELAY_S 100e-6
#define WF_SEARCH_WINDOW_RATE_S_PER_S 1e-10
#define WF_SEARCH_FALSE_ALARM 1e-6
#define WF_SEARCH_LONGEST_S 10.0

enum { WF_SEARCH_PRODUCTS_MAX = 4 };

/** One baseline, i_station < j_station.
 *
 *  fit       of the product that shows the fringe best, against the job's clocks and at the middle
 *            of the stretch; its false_alarm is that of the best of all products
 *  product_snr  [WF_SEARCH_PRODUCTS_MAX] of each product of the result
 *  found     false_alarm is below the limit
 *  delay_residual_sigma, rate_residual_sigma  what the stations' clocks leave of it, over its error
 */
typedef struct wf_search_baseline {
    size_t i_station;
    size_t j_station;
    bool found;
    wf_product product;
    wf_fringe_fit fit;
    double product_snr[WF_SEARCH_PRODUCTS_MAX];
    double delay_residual_sigma;
    double rate_residual_sigma;
} wf_search_baseline;

/** One station.
 *
 *  recorded  it has valid samples in the stretch
 *  found     fringes connect it with the reference
 *  clock     where found; its reference is the middle of the stretch
 *  is_crossed  its fringes with most others stand in the crossed products: its polarizations are
 *              swapped
 *  is_mixed    its fringes stand in all products alike: its feeds are linear where the others' are
 *              circular, or the other way round
 *  strength    correlation of its fringes, over that of the median station (1: as strong); by
 *              triangles of baselines, NAN with fewer than three stations. A station that is as
 *              sensitive as the others and much below 1 has its samples read in the wrong way
 *  correction_s, correction_s_per_s  clock minus the job's
 */
typedef struct wf_search_station {
    bool takes_part;
    bool recorded;
    bool found;
    bool is_crossed;
    bool is_mixed;
    size_t n_baselines; /* to stations that recorded */
    size_t n_fringes;   /* of them with a fringe */
    double best_snr;
    double strength;
    wf_clock clock;
    double correction_s;
    double correction_error_s;
    double correction_s_per_s;
    double correction_error_s_per_s;
} wf_search_station;

/** What a search found. */
typedef struct wf_search_result {
    size_t i_scan;
    wf_instant start; /* of the stretch that the fits are of */
    double length_s;
    wf_instant middle;
    size_t i_reference;
    double window_delay_s; /* that was searched */
    double window_rate_s_per_s;
    double false_alarm;                          /* the limit */
    wf_product products[WF_SEARCH_PRODUCTS_MAX]; /* [n_products] that were correlated */
    size_t n_products;
    double correlated_s; /* of observation, all steps together */
    size_t n_steps;
    wf_search_station *stations; /* [n_stations] */
    size_t n_stations;
    wf_search_baseline *baselines; /* [n_baselines] of stations that recorded */
    size_t n_baselines;
    bool all_found;    /* of the stations that take part and have recordings */
    double delay_chi2; /* reduced, of the clocks' solution; NaN without a redundant baseline */
    double rate_chi2;
} wf_search_result;

/** Look for fringes in a test scan.
 *
 *  A short stretch in the middle of the scan is correlated with as many channels and as short
 *  integrations as the window asks for, longer ones while stations are missing; beyond what one
 *  correlation can span, clocks are shifted step by step. Where fringes are, the stretch of
 *  longest_s is correlated with the clocks found, and fitted anew. The clocks come from all
 *  baselines by weighted least squares.
 *
 *  status  OK, fringes or not | MISSING: no such scan or station | RANGE: fewer than two stations
 *          recorded the scan | as wf_correlate
 */
WF_API WF_MUST_CHECK wf_status wf_search(wf_search_result **out, const wf_observation *observation,
                                         const wf_search_options *options, wf_error *err);
WF_API void wf_search_result_destroy(wf_search_result *result);

#endif
