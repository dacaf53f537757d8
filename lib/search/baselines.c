/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Questions about a list of baselines. */
#include "search/baselines.h"

bool wfi_baseline_involves(const wf_search_baseline *baseline, size_t i_station)
{
    return baseline->i_station == i_station || baseline->j_station == i_station;
}

bool wfi_baselines_any_found(const wf_search_baseline *baselines, size_t n_baselines)
{
    for (size_t k = 0; k < n_baselines; k++)
        if (baselines[k].found)
            return true;
    return false;
}

size_t wfi_baselines_find(const wf_search_baseline *baselines, size_t n_baselines, size_t a,
                          size_t b)
{
    size_t k = 0;
    while (k < n_baselines &&
           !(wfi_baseline_involves(&baselines[k], a) && wfi_baseline_involves(&baselines[k], b)))
        k++;
    return k;
}
