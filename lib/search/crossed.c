/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Swapped polarizations: leakage leaves a weak fringe in the parallel products, so the stronger
 * pair of products decides. */
#include "search/crossed.h"

#include "base/memory.h"
#include "base/status.h"

static bool is_parallel(const wf_product *product)
{
    return product->first == product->second;
}

static bool baseline_is_crossed(const wf_search_result *result, const wf_search_baseline *baseline)
{
    double excess = 0;
    for (size_t p = 0; p < result->n_products; p++) {
        const double power = baseline->product_snr[p] * baseline->product_snr[p];
        excess += is_parallel(&result->products[p]) ? -power : power;
    }
    return excess > 0;
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
    wfi_free(reached);
    return WF_OK;
}
