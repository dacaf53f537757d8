/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One search under way: what is believed of the clocks, and one trial after the other. */
#ifndef WFI_SEARCH_HUNT_H
#define WFI_SEARCH_HUNT_H

#include <whitefringe/search.h>

#include "run/session.h"
#include "search/clocks.h"
#include "search/cube.h"
#include "search/trial.h"

typedef struct wfi_hunt {
    const wf_observation *observation;
    const wf_search_options *options; /* complete: no defaults left */
    size_t n_threads;
    wfi_session session;
    wfi_trial trial; /* the last */
    size_t i_scan;
    wf_time_span span;        /* of the scan, that all stations recorded */
    bool *recorded;           /* [n_stations] */
    int64_t *sample_rates_hz; /* [n_recordings] */
    wf_product products[4];   /* [n_products] to be correlated */
    size_t n_products;
    wf_clock *clocks;               /* [n_stations] believed now */
    wf_clock *trial_clocks;         /* [n_stations] of the last trial */
    bool *found;                    /* [n_stations] */
    wf_station_value *delay_s;      /* [n_stations] errors of the believed clocks */
    wf_station_value *rate_s_per_s; /* [n_stations] */
    bool *connected;                /* [n_stations] by the last trial */
    size_t i_reference;
    bool has_reference;
    wf_search_baseline *baselines; /* [n_baselines] of the last trial */
    size_t n_baselines;
    double n_steps_expected;
    wf_search_result *result;
} wfi_hunt;

/** What a trial looks for. */
typedef struct wfi_look {
    const bool *stations; /* [n_stations] */
    double length_s;
    double delay_s; /* half-widths */
    double rate_s_per_s;
    double false_alarm;
    bool is_coarse; /* first band and product, and pairs with the reference, only */
} wfi_look;

/** given  out  {0}, with observation, options, n_threads, result */
wf_status wfi_hunt_open(wfi_hunt *hunt, wf_error *err);
void wfi_hunt_close(wfi_hunt *hunt);

/** Correlate and fit with trial_clocks: baselines, trial. */
wf_status wfi_hunt_look(wfi_hunt *hunt, const wfi_look *look, wf_error *err);

/** Take over what the last trial says of the stations that fringes connect with the reference,
 * which is chosen if there is none. */
wf_status wfi_hunt_absorb(wfi_hunt *hunt, wf_error *err);

/** Stations that recorded and are not found yet. */
size_t wfi_hunt_n_missing(const wfi_hunt *hunt);

size_t wfi_hunt_n_found(const wfi_hunt *hunt);

/** Do fringes of the last trial connect a station with the reference? */
bool wfi_hunt_is_connected(const wfi_hunt *hunt, size_t i_station);

/** Believe the job's clock again. */
void wfi_hunt_forget(wfi_hunt *hunt, size_t i_station);
/** The same for all stations, and for a reference that nobody named. */
void wfi_hunt_forget_all(wfi_hunt *hunt);

/** Half-width of delays that one look can span, at most what the options ask for, s. */
double wfi_hunt_widest_delay_s(const wfi_hunt *hunt, bool is_coarse);

/** trial_clocks := clocks */
void wfi_hunt_reset_clocks(wfi_hunt *hunt);

#endif
