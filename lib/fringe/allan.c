/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Overlapping Allan deviation of a fringe's phase. */
#include "fringe/allan.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

double wfi_allan_variance(const wf_fringe_phase *phase, size_t m, double *thermal, size_t *n_terms)
{
    const double *x = phase->phase_rad;
    const double *sigma = phase->sigma_rad;
    double sum = 0;
    double noise = 0;
    size_t n = 0;
    for (size_t i = 0; i + 2 * m < phase->n_times; i++) {
        const double second = x[i + 2 * m] - 2 * x[i + m] + x[i];
        if (isnan(second))
            continue;
        sum += second * second;
        if (sigma != NULL)
            noise += sigma[i] * sigma[i] + 4 * sigma[i + m] * sigma[i + m] +
                     sigma[i + 2 * m] * sigma[i + 2 * m];
        n++;
    }
    const double tau_s = (double)m * phase->interval_s;
    const double to_frequency = 1 / (WFI_RAD_PER_TURN * phase->frequency_hz * tau_s);
    const double scale = n > 0 ? to_frequency * to_frequency / (2 * (double)n) : 0;
    *thermal = n > 0 ? scale * noise : 0;
    *n_terms = n;
    return scale * sum;
}

static wf_allan_point make_point(const wf_fringe_phase *phase, size_t m, double variance,
                                 double thermal, size_t n_terms, int alpha)
{
    double low = 0;
    double high = 0;
    const double edf = wfi_allan_edf(alpha, n_terms + 2 * m, m);
    wfi_allan_interval(&low, &high, variance, edf);
    return (wf_allan_point){
        .tau_s = (double)m * phase->interval_s,
        .deviation = sqrt(variance),
        .low = sqrt(low),
        .high = sqrt(high),
        .thermal = sqrt(thermal),
        .beyond_thermal = sqrt(fmax(variance - thermal, 0)),
        .edf = edf,
        .noise_exponent = alpha,
        .n_terms = n_terms,
    };
}

static wf_status make_points(wf_allan *out, const wf_fringe_phase *phase, wf_error *err)
{
    size_t n_points = 0;
    for (size_t m = 1; 2 * m < phase->n_times; m *= 2)
        n_points++;
    WFI_TRY(wfi_allocate(&out->points, n_points, sizeof *out->points, "Allan deviations", err));
    int alpha = 2;
    for (size_t m = 1; 2 * m < phase->n_times; m *= 2) {
        double thermal = 0;
        size_t n_terms = 0;
        const double variance = wfi_allan_variance(phase, m, &thermal, &n_terms);
        if (n_terms == 0)
            break;
        /* What falls faster with time gives way to what falls slower, never the other way round:
         * a higher exponent at a longer time is an estimate's scatter, or an alias. */
        int there = alpha;
        WFI_TRY(wfi_allan_noise(&there, phase, m, err));
        alpha = there < alpha ? there : alpha;
        out->points[out->n_points++] = make_point(phase, m, variance, thermal, n_terms, alpha);
    }
    if (out->n_points == 0)
        return wfi_fail(err, WF_RANGE,
                        "an Allan deviation needs three valid integrations in a row; among %zu "
                        "there are none",
                        phase->n_times);
    return WF_OK;
}

wf_status wf_allan_measure(wf_allan **out, const wf_fringe_phase *phase, wf_error *err)
{
    *out = NULL;
    if (!(phase->interval_s > 0) || !(phase->frequency_hz > 0))
        return wfi_fail(err, WF_ARGUMENT, "Allan deviation of phases every %g s at %g Hz",
                        phase->interval_s, phase->frequency_hz);
    wf_allan *made = NULL;
    WFI_TRY(wfi_allocate(&made, 1, sizeof *made, "Allan deviations", err));
    const wf_status status = make_points(made, phase, err);
    if (status == WF_OK)
        *out = made;
    else
        wf_allan_destroy(made);
    return status;
}

void wf_allan_destroy(wf_allan *allan)
{
    if (allan == NULL)
        return;
    wfi_free(allan->points);
    wfi_free(allan);
}
