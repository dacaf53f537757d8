/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The steps of a search, and what they add up to. */
#include <whitefringe/search.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"
#include "search/describe.h"
#include "search/hunt.h"
#include "search/options.h"
#include "search/shifts.h"
#include "search/steps.h"

/* The first look, and by how much the next is longer. */
static const double FIRST_LENGTH_S = 1.0;
static const double LENGTH_FACTOR = 4.0;

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
        WFI_TRY(wfi_step_take(hunt, &look, err));
        const double reached_s = hunt->trial.scan.duration_s;
        if (wfi_hunt_n_missing(hunt) == 0 || reached_s < 1.5 * last_s || length_s >= all_s)
            return WF_OK;
        last_s = reached_s;
    }
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

static wf_status run_all(wfi_hunt *hunt, wf_error *err)
{
    WFI_TRY(wfi_hunt_open(hunt, err));
    WFI_TRY(list_baselines(hunt, err));
    const double widest_s = wfi_hunt_widest_delay_s(hunt, false);
    hunt->n_steps_expected = 2;
    WFI_TRY(look_in_window(hunt, widest_s, err));
    WFI_TRY(wfi_step_closely(hunt, hunt->options->longest_s, err));
    if (wfi_hunt_n_missing(hunt) > 0 && widest_s < hunt->options->window_delay_s)
        WFI_TRY(wfi_look_further(hunt, err));
    return wfi_describe(hunt, err);
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
