/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Strengths of stations by triangles of baselines. */
#include "search/strength.h"

#include <math.h>

#include "base/memory.h"
#include "base/order.h"
#include "base/status.h"
#include "search/baselines.h"

/* The upper middle one: a number that was measured. */
static double median(double *values, size_t n)
{
    wfi_sort_ascending(values, n);
    return n > 0 ? values[n / 2] : NAN;
}

static double amplitude_of(const wf_search_result *result, size_t a, size_t b)
{
    const size_t k = wfi_baselines_find(result->baselines, result->n_baselines, a, b);
    const bool is_found = k < result->n_baselines && result->baselines[k].found;
    return is_found ? result->baselines[k].fit.amplitude : 0;
}

static double gain_of(const wf_search_result *result, size_t i, double *gains)
{
    size_t n = 0;
    for (size_t j = 0; j < result->n_stations; j++)
        for (size_t k = j + 1; k < result->n_stations; k++) {
            if (j == i || k == i)
                continue;
            const double opposite = amplitude_of(result, j, k);
            const double product = amplitude_of(result, i, j) * amplitude_of(result, i, k);
            if (opposite > 0 && product > 0)
                gains[n++] = sqrt(product / opposite);
        }
    return median(gains, n);
}

wf_status wfi_mark_strength(wf_search_result *result, wf_error *err)
{
    const size_t n = result->n_stations;
    double *gains = NULL;
    WFI_TRY(wfi_allocate(&gains, n * n, sizeof *gains, "strengths", err));
    for (size_t i = 0; i < n; i++)
        result->stations[i].strength = gain_of(result, i, gains);
    size_t n_known = 0;
    for (size_t i = 0; i < n; i++)
        if (isfinite(result->stations[i].strength))
            gains[n_known++] = result->stations[i].strength;
    const double typical = median(gains, n_known);
    for (size_t i = 0; i < n; i++)
        result->stations[i].strength /= typical;
    wfi_free(gains);
    return WF_OK;
}
