/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Swapped polarizations: leakage leaves a weak fringe in the parallel products, so the stronger
 * pair of products decides. */
#include "search/crossed.h"

#include "base/memory.h"
#include "base/status.h"
#include "search/baselines.h"

/* Powers that differ by less than this factor; leakage stays far below. */
static const double ALIKE = 2;

static bool is_parallel(const wf_product *product)
{
    return product->first == product->second;
}

/* Signal-to-noise ratios squared, added up. */
static double power_of(const wf_search_result *result, const wf_search_baseline *baseline,
                       bool parallel)
{
    double power = 0;
    for (size_t p = 0; p < result->n_products; p++)
        if (is_parallel(&result->products[p]) == parallel)
            power += baseline->product_snr[p] * baseline->product_snr[p];
    return power;
}

static bool baseline_is_crossed(const wf_search_result *result, const wf_search_baseline *baseline)
{
    return power_of(result, baseline, false) > power_of(result, baseline, true);
}

/* Between a linear and a circular feed all four products hold half the power. */
static bool baseline_is_mixed(const wf_search_result *result, const wf_search_baseline *baseline)
{
    const double crossed = power_of(result, baseline, false);
    const double parallel = power_of(result, baseline, true);
    return crossed < ALIKE * parallel && parallel < ALIKE * crossed;
}

static size_t count_of_station(const wf_search_result *result, size_t i, bool only_mixed)
{
    size_t n = 0;
    for (size_t k = 0; k < result->n_baselines; k++) {
        const wf_search_baseline *b = &result->baselines[k];
        n += b->found && wfi_baseline_involves(b, i) &&
             (!only_mixed || baseline_is_mixed(result, b));
    }
    return n;
}

/* All its baselines are mixed, and there are others that are not: two stations alone do not tell
 * which of them it is. */
static void mark_mixed(wf_search_result *result)
{
    for (size_t i = 0; i < result->n_stations; i++) {
        const size_t n = count_of_station(result, i, false);
        size_t n_others = 0;
        for (size_t k = 0; k < result->n_baselines; k++) {
            const wf_search_baseline *b = &result->baselines[k];
            n_others += b->found && !wfi_baseline_involves(b, i) && !baseline_is_mixed(result, b);
        }
        result->stations[i].is_mixed =
            n >= 2 && n_others > 0 && count_of_station(result, i, true) == n;
        if (result->stations[i].is_mixed)
            result->stations[i].is_crossed = false;
    }
}

/* From the reference outwards; a pass reaches at least one station more. */
static void spread_from_reference(wf_search_result *result, bool *reached)
{
    reached[result->i_reference] = true;
    for (bool again = true; again;) {
        again = false;
        for (size_t k = 0; k < result->n_baselines; k++) {
            const wf_search_baseline *b = &result->baselines[k];
            if (!b->found || reached[b->i_station] == reached[b->j_station])
                continue;
            const size_t from = reached[b->i_station] ? b->i_station : b->j_station;
            const size_t to = from == b->i_station ? b->j_station : b->i_station;
            result->stations[to].is_crossed =
                result->stations[from].is_crossed != baseline_is_crossed(result, b);
            reached[to] = true;
            again = true;
        }
    }
}

wf_status wfi_mark_crossed(wf_search_result *result, wf_error *err)
{
    bool *reached = NULL;
    WFI_TRY(wfi_allocate(&reached, result->n_stations, sizeof(bool), "stations", err));
    spread_from_reference(result, reached);
    size_t n = 0;
    size_t n_crossed = 0;
    for (size_t i = 0; i < result->n_stations; i++) {
        n += reached[i];
        n_crossed += reached[i] && result->stations[i].is_crossed;
    }
    for (size_t i = 0; 2 * n_crossed > n && i < result->n_stations; i++)
        if (reached[i])
            result->stations[i].is_crossed = !result->stations[i].is_crossed;
    mark_mixed(result);
    wfi_free(reached);
    return WF_OK;
}
