/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One look at a station and its partners. */
#include "search/attempt.h"

#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"
#include "search/baselines.h"
#include "search/hunt.h"
#include "search/subset.h"

static wf_status look(wfi_hunt *hunt, const wfi_attempt_setup *setup, wf_search_baseline *best,
                      wf_error *err)
{
    for (size_t i = 0; i < hunt->observation->n_stations; i++)
        if (setup->partners[i])
            hunt->clocks[i] = setup->clocks[i];
    wfi_hunt_reset_clocks(hunt);
    const wfi_look wide = {.stations = hunt->recorded,
                           .length_s = setup->length_s,
                           .delay_s = wfi_hunt_widest_delay_s(hunt, false),
                           .rate_s_per_s = setup->options->window_rate_s_per_s,
                           .false_alarm = setup->false_alarm};
    WFI_TRY(wfi_hunt_look(hunt, &wide, err));
    for (size_t k = 0; k < hunt->n_baselines; k++) {
        const wf_search_baseline *b = &hunt->baselines[k];
        if (wfi_baseline_involves(b, setup->i_station) && b->fit.snr > best->fit.snr)
            *best = *b;
    }
    return WF_OK;
}

static wf_status attempt(const wf_observation *observation, const wfi_attempt_setup *setup,
                         wf_search_baseline *best, wf_error *err)
{
    wf_search_options options = *setup->options;
    options.scan_name = setup->scan_name;
    options.reference_name = NULL;
    options.progress = NULL;
    options.warn = NULL;
    wf_search_result steps = {0};
    wfi_hunt hunt = {.observation = observation,
                     .options = &options,
                     .n_threads =
                         options.n_threads > 0 ? (size_t)options.n_threads : wfi_parallel_cores(),
                     .result = &steps};
    wf_error none = WF_ERROR_INIT;
    wf_status status = wfi_hunt_open(&hunt, &none);
    const bool meets_nobody = status == WF_RANGE;
    if (status == WF_OK && hunt.recorded[setup->i_station])
        status = look(&hunt, setup, best, &none);
    wfi_hunt_close(&hunt);
    if (meets_nobody)
        return WF_OK;
    return status == WF_OK ? WF_OK : wfi_fail(err, status, "%s", none.message);
}

wf_status wfi_attempt(wf_search_baseline *best, const wf_observation *observation,
                      const wfi_attempt_setup *setup, wf_error *err)
{
    *best = (wf_search_baseline){.fit = {.false_alarm = 1}};
    bool *stations = NULL;
    wfi_subset subset = {0};
    const size_t n = observation->n_stations;
    wf_status status = wfi_allocate(&stations, n, sizeof(bool), "stations", err);
    if (status == WF_OK) {
        memcpy(stations, setup->partners, n * sizeof(bool));
        stations[setup->i_station] = true;
        status = wfi_subset_create(&subset, observation, stations, err);
    }
    if (status == WF_OK)
        status = attempt(&subset.observation, setup, best, err);
    wfi_subset_release(&subset);
    wfi_free(stations);
    return status;
}
