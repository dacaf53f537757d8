/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fringe in time: its memory, weights and means. */
#include "fringe/series.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

wf_status wfi_series_create(wf_fringe_series **out, size_t n_times, wf_error *err)
{
    *out = NULL;
    wf_fringe_series *made = NULL;
    WFI_TRY(wfi_allocate(&made, 1, sizeof *made, "a fringe in time", err));
    made->n_times = n_times;
    wf_status status =
        wfi_allocate(&made->fringe, n_times, sizeof *made->fringe, "a fringe in time", err);
    if (status == WF_OK)
        status = wfi_allocate(&made->sigma, n_times, sizeof *made->sigma, "a fringe's noise", err);
    if (status == WF_OK)
        *out = made;
    else
        wf_fringe_series_destroy(made);
    return status;
}

void wf_fringe_series_destroy(wf_fringe_series *series)
{
    if (series == NULL)
        return;
    wfi_free(series->fringe);
    wfi_free(series->sigma);
    wfi_free(series);
}

size_t wfi_series_n_valid(const wf_fringe_series *series)
{
    size_t n = 0;
    for (size_t t = 0; t < series->n_times; t++)
        n += wfi_series_valid(series, t);
    return n;
}

void wfi_series_weights(double *weight, const wf_fringe_series *series)
{
    double least = INFINITY;
    for (size_t t = 0; t < series->n_times; t++) {
        if (wfi_series_valid(series, t))
            least = fmin(least, series->sigma[t]);
    }
    for (size_t t = 0; t < series->n_times; t++) {
        const double ratio = least > 0 ? least / series->sigma[t] : 1;
        weight[t] = wfi_series_valid(series, t) ? ratio * ratio : 0;
    }
}

static void average(double complex *mean, double *sigma, const wf_fringe_series *series,
                    const double *weight, size_t first, size_t n)
{
    double complex sum = 0;
    double noise = 0;
    double total = 0;
    for (size_t t = first; t < first + n; t++) {
        if (!(weight[t] > 0))
            continue;
        sum += weight[t] * series->fringe[t];
        noise += weight[t] * weight[t] * series->sigma[t] * series->sigma[t];
        total += weight[t];
    }
    *mean = total > 0 ? sum / total : 0;
    *sigma = total > 0 ? sqrt(noise) / total : INFINITY;
}

wf_status wf_fringe_series_average(wf_fringe_series **out, const wf_fringe_series *series, size_t n,
                                   wf_error *err)
{
    *out = NULL;
    if (n == 0 || n > series->n_times)
        return wfi_fail(err, WF_ARGUMENT, "means of %zu integrations of a stretch of %zu", n,
                        series->n_times);
    wf_fringe_series *made = NULL;
    WFI_TRY(wfi_series_create(&made, series->n_times / n, err));
    made->interval_s = series->interval_s * (double)n;
    made->frequency_hz = series->frequency_hz;
    double *weight = NULL;
    const wf_status status = wfi_allocate(&weight, series->n_times, sizeof *weight, "weights", err);
    if (status != WF_OK) {
        wf_fringe_series_destroy(made);
        return status;
    }
    wfi_series_weights(weight, series);
    for (size_t k = 0; k < made->n_times; k++)
        average(&made->fringe[k], &made->sigma[k], series, weight, k * n, n);
    wfi_free(weight);
    *out = made;
    return WF_OK;
}
