/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks further off than one correlation spans. */
#include "search/shifts.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "search/steps.h"

/* Shifting the clocks: one look, at a glance and with patience; how far its window reaches into the
 * next. */
static const double SHIFT_LENGTHS_S[] = {0.125, 0.5};
static const double SHIFT_OVERLAP = 0.9;

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
        WFI_TRY(wfi_step_take(hunt, &look, err));
        if (wfi_hunt_n_found(hunt) > n_before)
            WFI_TRY(wfi_step_closely(hunt, SHIFT_LENGTHS_S[1], err));
        assume_reference(hunt);
    }
    return WF_OK;
}

/* Clocks further off than one correlation spans: all shifts at a glance, then with more patience.
 */
wf_status wfi_look_further(wfi_hunt *hunt, wf_error *err)
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
    return status == WF_OK ? wfi_step_closely(hunt, hunt->options->longest_s, err) : status;
}
