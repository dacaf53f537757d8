/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The steps of a search, and what they add up to. */
#include <whitefringe/search.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/clock.h"
#include "run/parallel.h"
#include "search/crossed.h"
#include "search/hunt.h"
#include "search/options.h"
#include "search/strength.h"

/* The first look, and by how much the next is longer. */
static const double FIRST_LENGTH_S = 1.0;
static const double LENGTH_FACTOR = 4.0;
/* Shifting the clocks: one look, at a glance and with patience; how far its window reaches into the
 * next. */
static const double SHIFT_LENGTHS_S[] = {0.125, 0.5};
static const double SHIFT_OVERLAP = 0.9;
/* A narrow window, over the segment of the job's channels. */
static const double SEGMENT_PART = 0.1;
/* What the clocks found may still be off, over the errors of the fits. */
static const double WINDOW_SIGMAS = 8.0;

wf_search_options wfi_search_options_complete(const wf_search_options *options)
{
    wf_search_options out = *options;
    if (!(out.window_delay_s > 0))
        out.window_delay_s = WF_SEARCH_WINDOW_DELAY_S;
    if (!(out.window_rate_s_per_s > 0))
        out.window_rate_s_per_s = WF_SEARCH_WINDOW_RATE_S_PER_S;
    if (!(out.false_alarm > 0))
        out.false_alarm = WF_SEARCH_FALSE_ALARM;
    if (!(out.longest_s > 0))
        out.longest_s = WF_SEARCH_LONGEST_S;
    return out;
}

/* The baseline of two stations in the result. */
static wf_search_baseline *baseline_of(wf_search_result *result, size_t i, size_t j)
{
    for (size_t k = 0; k < result->n_baselines; k++)
        if (result->baselines[k].i_station == i && result->baselines[k].j_station == j)
            return &result->baselines[k];
    return NULL;
}

/* Fits are told against the job's clocks, whichever the trial took. */
static void count_from_job(wf_search_baseline *baseline, const wfi_hunt *hunt)
{
    const wf_instant middle =
        wf_instant_add(hunt->trial.scan.start, 0.5 * hunt->trial.scan.duration_s);
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
        wf_search_baseline *kept = baseline_of(result, now.i_station, now.j_station);
        if (kept->found && !now.found)
            continue;
        count_from_job(&now, hunt);
        *kept = now;
    }
}

static wf_status take(wfi_hunt *hunt, const wfi_look *look, wf_error *err)
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
            if (kept->i_station == i || kept->j_station == i)
                kept->found = false;
        }
    }
    if (n_left < 2)
        wfi_hunt_forget_all(hunt);
}

/* Once more with the clocks found, over so much of the scan. */
static wf_status look_closely(wfi_hunt *hunt, double length_s, wf_error *err)
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
    WFI_TRY(take(hunt, &look, err));
    drop_unconfirmed(hunt);
    return WF_OK;
}

/* Longer and longer, as far as scan and memory go. */
static wf_status look_in_window(wfi_hunt *hunt, double window_delay_s, wf_error *err)
{
    const wf_search_options *options = hunt->options;
    const double all_s =
        fmin(options->longest_s, wf_instant_difference_s(hunt->span.stop, hunt->span.start));
    double last_s = 0;
    for (double length_s = FIRST_LENGTH_S;; length_s *= LENGTH_FACTOR) {
        const wfi_look look = {.stations = hunt->recorded,
                               .length_s = fmin(length_s, all_s),
                               .delay_s = window_delay_s,
                               .rate_s_per_s = options->window_rate_s_per_s,
                               .false_alarm = options->false_alarm};
        wfi_hunt_reset_clocks(hunt);
        WFI_TRY(take(hunt, &look, err));
        const double reached_s = hunt->trial.scan.duration_s;
        if (wfi_hunt_n_missing(hunt) == 0 || reached_s < 1.5 * last_s || length_s >= all_s)
            return WF_OK;
        last_s = reached_s;
    }
}

/* The missing stations and the reference; the clocks of the missing ones are shifted. */
static void shift_missing(wfi_hunt *hunt, bool *stations, double shift_s)
{
    wfi_hunt_reset_clocks(hunt);
    for (size_t i = 0; i < hunt->observation->n_stations; i++) {
        const bool is_missing = hunt->recorded[i] && !hunt->found[i] && i != hunt->i_reference;
        stations[i] = is_missing || i == hunt->i_reference;
        if (is_missing)
            hunt->trial_clocks[i].ahead_s += shift_s;
    }
}

/* Without any fringe one station has to stay where it is. */
static void assume_reference(wfi_hunt *hunt)
{
    if (hunt->has_reference)
        return;
    hunt->i_reference = 0;
    while (!hunt->recorded[hunt->i_reference])
        hunt->i_reference++;
    hunt->has_reference = true;
}

typedef struct shifts {
    double widest_s;
    double step_s;
    size_t n;
    bool whole_seconds_first;
} shifts;

static shifts plan_shifts(const wfi_hunt *hunt, double widest_s)
{
    const double window_s = hunt->options->window_delay_s;
    const double step_s = 2 * SHIFT_OVERLAP * widest_s;
    const bool seconds = window_s > 1 - widest_s;
    return (shifts){.widest_s = widest_s,
                    .step_s = step_s,
                    .n = 1 + 2 * (size_t)ceil((window_s - widest_s) / step_s) + (seconds ? 2 : 0),
                    .whole_seconds_first = seconds};
}

/* 0, +1, -1, +2, -2 ... windows, and before them the mistake that is made most. */
static double shift_of(const shifts *plan, size_t k)
{
    if (plan->whole_seconds_first && k < 2)
        return k == 0 ? 1.0 : -1.0;
    k -= plan->whole_seconds_first ? 2 : 0;
    return plan->step_s * (k % 2 == 1 ? 1 : -1) * (double)((k + 1) / 2);
}

static wf_status look_shifted(wfi_hunt *hunt, const shifts *plan, double length_s, bool *stations,
                              wf_error *err)
{
    const wf_search_options *options = hunt->options;
    for (size_t k = 0; k < plan->n && wfi_hunt_n_missing(hunt) > 0; k++) {
        const wfi_look look = {.stations = stations,
                               .length_s = length_s,
                               .delay_s = plan->widest_s,
                               .rate_s_per_s = options->window_rate_s_per_s,
                               .false_alarm = options->false_alarm / (double)plan->n,
                               .is_coarse = true};
        const size_t n_before = wfi_hunt_n_found(hunt);
        shift_missing(hunt, stations, shift_of(plan, k));
        WFI_TRY(take(hunt, &look, err));
        if (wfi_hunt_n_found(hunt) > n_before)
            WFI_TRY(look_closely(hunt, SHIFT_LENGTHS_S[1], err));
        assume_reference(hunt);
    }
    return WF_OK;
}

/* Clocks further off than one correlation spans: all shifts at a glance, then with more patience.
 */
static wf_status look_further(wfi_hunt *hunt, wf_error *err)
{
    const shifts plan = plan_shifts(hunt, wfi_hunt_widest_delay_s(hunt, true));
    bool *stations = NULL;
    WFI_TRY(wfi_allocate(&stations, hunt->observation->n_stations, sizeof(bool), "stations", err));
    assume_reference(hunt);
    wf_status status = WF_OK;
    for (size_t i = 0; i < 2 && status == WF_OK && wfi_hunt_n_missing(hunt) > 0; i++) {
        hunt->n_steps_expected = (double)(hunt->result->n_steps + plan.n + 1);
        status = look_shifted(hunt, &plan, SHIFT_LENGTHS_S[i], stations, err);
    }
    wfi_free(stations);
    return status == WF_OK ? look_closely(hunt, hunt->options->longest_s, err) : status;
}

static wf_status list_baselines(wfi_hunt *hunt, wf_error *err)
{
    const size_t n = hunt->observation->n_stations;
    wf_search_result *result = hunt->result;
    WFI_TRY(wfi_allocate(&result->stations, n, sizeof *result->stations, "stations", err));
    WFI_TRY(wfi_allocate(&result->baselines, n * (n - 1) / 2, sizeof *result->baselines,
                         "baselines", err));
    result->n_stations = n;
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++)
            if (hunt->recorded[i] && hunt->recorded[j])
                result->baselines[result->n_baselines++] =
                    (wf_search_baseline){.i_station = i, .j_station = j, .fit = {.false_alarm = 1}};
    return WF_OK;
}

static wf_search_station describe_station(const wfi_hunt *hunt, size_t i)
{
    const wf_search_result *result = hunt->result;
    const wf_clock *job = &hunt->observation->stations[i].clock;
    const wf_clock *now = &hunt->clocks[i];
    wf_search_station out = {
        .takes_part = hunt->observation->scans[hunt->i_scan].station_takes_part[i],
        .recorded = hunt->recorded[i],
        .found = hunt->found[i],
        .clock = *now,
        .correction_s = wfi_clock_ahead_s(now, result->middle, 0.0) -
                        wfi_clock_ahead_s(job, result->middle, 0.0),
        .correction_error_s = hunt->delay_s[i].error,
        .correction_s_per_s = now->rate_s_per_s - job->rate_s_per_s,
        .correction_error_s_per_s = hunt->rate_s_per_s[i].error,
    };
    for (size_t k = 0; k < result->n_baselines; k++) {
        const wf_search_baseline *b = &result->baselines[k];
        if (b->i_station != i && b->j_station != i)
            continue;
        out.n_baselines++;
        out.n_fringes += b->found;
        out.best_snr = fmax(out.best_snr, b->fit.snr);
    }
    return out;
}

static bool has_to_be_found(const wfi_hunt *hunt, size_t i_station)
{
    const wf_observation *o = hunt->observation;
    bool has_recording = false;
    for (size_t r = 0; r < o->n_recordings; r++)
        has_recording = has_recording || o->recordings[r].i_station == i_station;
    return has_recording && o->scans[hunt->i_scan].station_takes_part[i_station];
}

static wf_status describe(wfi_hunt *hunt, wf_error *err)
{
    wf_search_result *result = hunt->result;
    result->n_products = hunt->n_products;
    for (size_t p = 0; p < hunt->n_products; p++)
        result->products[p] = hunt->products[p];
    result->i_scan = hunt->i_scan;
    result->start = hunt->trial.scan.start;
    result->length_s = hunt->trial.scan.duration_s;
    result->middle = wf_instant_add(result->start, 0.5 * result->length_s);
    result->i_reference = hunt->i_reference;
    result->window_delay_s = hunt->options->window_delay_s;
    result->window_rate_s_per_s = hunt->options->window_rate_s_per_s;
    result->false_alarm = hunt->options->false_alarm;
    result->all_found = true;
    for (size_t i = 0; i < result->n_stations; i++) {
        result->stations[i] = describe_station(hunt, i);
        result->all_found =
            result->all_found && (result->stations[i].found || !has_to_be_found(hunt, i));
    }
    WFI_TRY(wfi_mark_strength(result, err));
    return wfi_mark_crossed(result, err);
}

static wf_status run_all(wfi_hunt *hunt, wf_error *err)
{
    WFI_TRY(wfi_hunt_open(hunt, err));
    WFI_TRY(list_baselines(hunt, err));
    const double widest_s = wfi_hunt_widest_delay_s(hunt, false);
    hunt->n_steps_expected = 2;
    WFI_TRY(look_in_window(hunt, widest_s, err));
    WFI_TRY(look_closely(hunt, hunt->options->longest_s, err));
    if (wfi_hunt_n_missing(hunt) > 0 && widest_s < hunt->options->window_delay_s)
        WFI_TRY(look_further(hunt, err));
    return describe(hunt, err);
}

wf_status wf_search(wf_search_result **out, const wf_observation *observation,
                    const wf_search_options *options, wf_error *err)
{
    *out = NULL;
    const wf_search_options all = wfi_search_options_complete(options);
    wf_search_result *result = NULL;
    WFI_TRY(wfi_allocate(&result, 1, sizeof *result, "the search", err));
    wfi_hunt hunt = {
        .observation = observation,
        .options = &all,
        .n_threads = all.n_threads > 0 ? (size_t)all.n_threads : wfi_parallel_cores(),
        .result = result,
    };
    const wf_status status = run_all(&hunt, err);
    wfi_hunt_close(&hunt);
    if (status == WF_OK)
        *out = result;
    else
        wf_search_result_destroy(result);
    return status;
}

void wf_search_result_destroy(wf_search_result *result)
{
    if (result == NULL)
        return;
    wfi_free(result->stations);
    wfi_free(result->baselines);
    wfi_free(result);
}
