/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A step of a search: a look, what it teaches, and whether a closer look confirms it. */
#include "search/steps.h"

#include <math.h>

#include "base/status.h"
#include "delay/clock.h"
#include "search/baselines.h"

/* A narrow window, over the segment of the job's channels. */
static const double SEGMENT_PART = 0.1;
/* What the clocks found may still be off, over the errors of the fits. */
static const double WINDOW_SIGMAS = 8.0;

/* Fits are told against the job's clocks, whichever the trial took. */
static void count_from_job(wf_search_baseline *baseline, const wfi_hunt *hunt)
{
    const wf_instant middle = wfi_trial_middle(&hunt->trial);
    const size_t station[2] = {baseline->i_station, baseline->j_station};
    for (size_t k = 0; k < 2; k++) {
        const double sign = k == 0 ? 1 : -1;
        const wf_clock *tried = &hunt->trial_clocks[station[k]];
        const wf_clock *job = &hunt->observation->stations[station[k]].clock;
        const double delay_s =
            wfi_clock_ahead_s(tried, middle, 0.0) - wfi_clock_ahead_s(job, middle, 0.0);
        const double rate = tried->rate_s_per_s - job->rate_s_per_s;
        baseline->fit.delay_s += sign * delay_s;
        baseline->fit.single_band_delay_s += sign * delay_s;
        baseline->fit.rate_s_per_s += sign * rate;
    }
}

static void keep_baselines(wfi_hunt *hunt)
{
    wf_search_result *result = hunt->result;
    for (size_t k = 0; k < hunt->n_baselines; k++) {
        wf_search_baseline now = hunt->baselines[k];
        wf_search_baseline *kept = &result->baselines[wfi_baselines_find(
            result->baselines, result->n_baselines, now.i_station, now.j_station)];
        if (kept->found && !now.found)
            continue;
        count_from_job(&now, hunt);
        *kept = now;
    }
}

wf_status wfi_step_take(wfi_hunt *hunt, const wfi_look *look, wf_error *err)
{
    WFI_TRY(wfi_hunt_look(hunt, look, err));
    WFI_TRY(wfi_hunt_absorb(hunt, err));
    keep_baselines(hunt);
    return WF_OK;
}

static double largest_error(const wfi_hunt *hunt, const wf_station_value *values)
{
    double largest = 0;
    for (size_t i = 0; i < hunt->observation->n_stations; i++)
        if (hunt->found[i])
            largest = fmax(largest, values[i].error);
    return largest;
}

/* A clock off by a whole segment shows a faint fringe at a wrong delay. With the segments of a
 * narrow window, and the clock that the fringe asked for, it is gone. */
static void drop_unconfirmed(wfi_hunt *hunt)
{
    size_t n_left = 0;
    for (size_t i = 0; i < hunt->observation->n_stations; i++) {
        if (!hunt->found[i] || wfi_hunt_is_connected(hunt, i)) {
            n_left += hunt->found[i];
            continue;
        }
        wfi_hunt_forget(hunt, i);
        for (size_t k = 0; k < hunt->result->n_baselines; k++) {
            wf_search_baseline *kept = &hunt->result->baselines[k];
            if (wfi_baseline_involves(kept, i))
                kept->found = false;
        }
    }
    if (n_left < 2)
        wfi_hunt_forget_all(hunt);
}

/* Once more with the clocks found, over so much of the scan. */
wf_status wfi_step_closely(wfi_hunt *hunt, double length_s, wf_error *err)
{
    if (wfi_hunt_n_found(hunt) < 2)
        return WF_OK;
    const double segment_s = 1 / wf_channel_width_hz(hunt->observation);
    const wf_search_options *options = hunt->options;
    const wfi_look look = {
        .stations = hunt->found,
        .length_s = length_s,
        .delay_s =
            fmax(SEGMENT_PART * segment_s, WINDOW_SIGMAS * largest_error(hunt, hunt->delay_s)),
        .rate_s_per_s = fmin(options->window_rate_s_per_s,
                             WINDOW_SIGMAS * largest_error(hunt, hunt->rate_s_per_s)),
        .false_alarm = options->false_alarm};
    wfi_hunt_reset_clocks(hunt);
    WFI_TRY(wfi_step_take(hunt, &look, err));
    drop_unconfirmed(hunt);
    return WF_OK;
}
