/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise of a fit's bands, from what the fringe leaves. */
#include "fringe/noise.h"

#include <math.h>

#include "base/status.h"
#include "fringe/input.h"
#include "fringe/peak.h"
#include "fringe/product.h"

/* A median of fewer cells is worth less than a mean. */
enum { CELLS_MIN = 16 };
static const double LN_2 = 0.69314718055994530942;

static size_t n_valid(const wfi_band *band)
{
    return wfi_input_valid_times(band->input) * band->input->n_channels;
}

/* Sum of scaled weight * |visibility|^2. */
static double energy(const wfi_band *band)
{
    const wf_fringe_input *in = band->input;
    double sum = 0;
    for (size_t t = 0; t < in->n_times; t++) {
        double row = 0;
        for (size_t c = 0; in->weight[t] > 0 && c < in->n_channels; c++)
            row += wfi_power(in->visibility[t * in->n_channels + c]);
        sum += in->weight[t] > 0 ? band->scale * in->weight[t] * row : 0;
    }
    return sum;
}

/* Few visibilities: what the fit leaves of their energy, over the degrees of freedom left. Delay
 * and rate count for one complex number, amplitude and phase for one, or one a band. */
static wf_status from_energy(wfi_noise *noise, const wfi_bands *bands, wfi_phases phases,
                             const double complex *sum, wfi_place at, wf_error *err)
{
    double left = 0;
    size_t n = 0;
    double fitted = 0;
    for (size_t b = 0; b < bands->n; b++) {
        left += energy(&bands->band[b]);
        n += n_valid(&bands->band[b]);
        fitted += wfi_power(sum[b]) / bands->band[b].total;
    }
    if (phases == WFI_PHASES_COMMON)
        fitted = wfi_power(wfi_climb_coherent(sum, bands, at)) / bands->total;
    const size_t n_fitted = 1 + (phases == WFI_PHASES_COMMON ? 1 : bands->n);
    if (n <= n_fitted)
        return wfi_fail(err, WF_RANGE,
                        "%zu visibilities are valid: a fit of %zu bands takes %zu and leaves "
                        "nothing to tell the noise from; give a longer stretch",
                        n, bands->n, n_fitted);
    noise->freedom = 2 * (double)(n - n_fitted);
    noise->variance = fmax(left - fitted, 0) / noise->freedom;
    return WF_OK;
}

double wfi_noise_freedom(size_t n)
{
    return 2 * LN_2 * LN_2 * (double)n;
}

static wf_status from_median(wfi_noise *noise, const wfi_band *band, double complex sum,
                             wfi_place at, wf_error *err)
{
    const wfi_trial trial = {at.delay_s * band->input->channel_width_hz,
                             at.rate * band->input->interval_s * band->middle_hz};
    double sigma = 0;
    WFI_TRY(wfi_peak_noise(&sigma, band->input, trial, sum / band->scale, err));
    noise->variance = band->scale * band->scale * sigma * sigma / band->total;
    noise->freedom = wfi_noise_freedom(n_valid(band));
    return WF_OK;
}

wf_status wfi_noise_measure(wfi_noise *band, wfi_noise *all, const wfi_bands *bands,
                            wfi_phases phases, const double complex *sum, wfi_place at,
                            wf_error *err)
{
    double total = 0;
    double scatter = 0;
    *all = (wfi_noise){0};
    for (size_t b = 0; b < bands->n; b++) {
        const double weight = bands->band[b].total;
        band[b] = (wfi_noise){0};
        if (n_valid(&bands->band[b]) < CELLS_MIN)
            continue;
        WFI_TRY(from_median(&band[b], &bands->band[b], sum[b], at, err));
        total += weight;
        all->variance += weight * band[b].variance;
        scatter += weight * weight / band[b].freedom;
    }
    if (total > 0) {
        all->variance /= total;
        all->freedom = total * total / scatter;
    } else {
        WFI_TRY(from_energy(all, bands, phases, sum, at, err));
    }
    for (size_t b = 0; b < bands->n; b++)
        band[b] = band[b].variance > 0 ? band[b] : *all;
    return WF_OK;
}
