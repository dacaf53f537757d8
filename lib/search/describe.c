/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a search adds up to. */
#include "search/describe.h"

#include <math.h>

#include "base/status.h"
#include "delay/clock.h"
#include "search/baselines.h"
#include "search/crossed.h"
#include "search/strength.h"

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
        if (!wfi_baseline_involves(b, i))
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

wf_status wfi_describe(wfi_hunt *hunt, wf_error *err)
{
    wf_search_result *result = hunt->result;
    result->n_products = hunt->n_products;
    for (size_t p = 0; p < hunt->n_products; p++)
        result->products[p] = hunt->products[p];
    result->i_scan = hunt->i_scan;
    result->start = hunt->trial.scan.start;
    result->length_s = hunt->trial.scan.duration_s;
    result->middle = wfi_trial_middle(&hunt->trial);
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
