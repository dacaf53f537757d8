/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From visibilities of several bands to one complex number an integration. */
#include "fringe/series.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/peak.h"

enum { CHANNELS_MIN = 4, TIMES_MIN = 4 };

static wf_status check(const wf_fringe_input *inputs, size_t n_inputs, wf_error *err)
{
    if (n_inputs == 0)
        return wfi_fail(err, WF_ARGUMENT, "a fringe in time needs one band at least");
    for (size_t b = 0; b < n_inputs; b++) {
        const wf_fringe_input *in = &inputs[b];
        if (in->n_times == 0 || in->n_channels == 0 || !(in->interval_s > 0) ||
            !(in->channel_width_hz > 0) || !(in->first_channel_hz > 0))
            return wfi_fail(err, WF_ARGUMENT,
                            "band %zu of a fringe in time: %zu integrations of %g s, %zu channels "
                            "of %g Hz from %g Hz; all must be positive",
                            b + 1, in->n_times, in->interval_s, in->n_channels,
                            in->channel_width_hz, in->first_channel_hz);
        if (in->n_times != inputs[0].n_times || in->interval_s != inputs[0].interval_s)
            return wfi_fail(err, WF_ARGUMENT,
                            "band %zu of a fringe in time has %zu integrations of %g s, band 1 has "
                            "%zu of %g s: give bands of the same times",
                            b + 1, in->n_times, in->interval_s, inputs[0].n_times,
                            inputs[0].interval_s);
        if (in->n_channels < CHANNELS_MIN)
            return wfi_fail(err, WF_RANGE,
                            "band %zu of a fringe in time has %zu channels; fewer than %d do not "
                            "tell noise from wander: give the series its noise yourself",
                            b + 1, in->n_channels, CHANNELS_MIN);
    }
    return WF_OK;
}

static double middle_hz(const wf_fringe_input *in)
{
    return in->first_channel_hz + 0.5 * (double)(in->n_channels - 1) * in->channel_width_hz;
}

static double complex phasor(double turns)
{
    return CMPLX(cos(WFI_RAD_PER_TURN * turns), sin(WFI_RAD_PER_TURN * turns));
}

/* Mean over the channels of one integration, turned back at the middle of the band. */
static double complex channel_mean(const wf_fringe_input *in, size_t t, double delay_s,
                                   double rate_s_per_s)
{
    const float complex *row = in->visibility + t * in->n_channels;
    const double time_s = ((double)t - 0.5 * (double)(in->n_times - 1)) * in->interval_s;
    const double drift_s = rate_s_per_s * time_s;
    const double half_band_hz = 0.5 * (double)(in->n_channels - 1) * in->channel_width_hz;
    const double complex step = phasor(wfi_turns_product(in->channel_width_hz, delay_s + drift_s));
    double complex turn = phasor(wfi_turns_product(middle_hz(in), drift_s) -
                                 wfi_turns_product(half_band_hz, delay_s + drift_s));
    double complex sum = 0;
    for (size_t c = 0; c < in->n_channels; c++) {
        sum += row[c] * turn;
        turn *= step;
    }
    return sum / (double)in->n_channels;
}

/* Noise of one component of a channel at weight 1, from the whole band. */
static wf_status band_noise(double *sigma, const wf_fringe_input *in, double delay_s,
                            double rate_s_per_s, wf_error *err)
{
    double total = 0;
    for (size_t t = 0; t < in->n_times; t++)
        total += in->weight[t] > 0 ? in->weight[t] * (double)in->n_channels : 0;
    const wfi_trial trial = {delay_s * in->channel_width_hz,
                             rate_s_per_s * in->interval_s * middle_hz(in)};
    WFI_TRY(wfi_peak_noise(sigma, in, trial, wfi_peak_sum(in, trial), err));
    *sigma /= sqrt(total);
    return WF_OK;
}

static wf_status make_band(wf_fringe_series **out, const wf_fringe_input *in, size_t b,
                           double delay_s, double rate_s_per_s, wf_error *err)
{
    wf_fringe_series *band = NULL;
    WFI_TRY(wfi_series_create(&band, in->n_times, err));
    size_t n_valid = 0;
    double sigma = 0;
    wf_status status = WF_OK;
    for (size_t t = 0; t < in->n_times && status == WF_OK; t++) {
        if (!(in->weight[t] > 0))
            continue;
        n_valid++;
        band->fringe[t] = channel_mean(in, t, delay_s, rate_s_per_s);
        if (!isfinite(creal(band->fringe[t])) || !isfinite(cimag(band->fringe[t])))
            status = wfi_fail(err, WF_FORMAT,
                              "band %zu, integration %zu: a visibility that is not a number, of "
                              "weight %g",
                              b + 1, t + 1, in->weight[t]);
    }
    /* a band that is silent all the time is left out of the sum */
    if (status == WF_OK && n_valid >= TIMES_MIN)
        status = band_noise(&sigma, in, delay_s, rate_s_per_s, err);
    for (size_t t = 0; t < in->n_times; t++)
        band->sigma[t] = in->weight[t] > 0 && sigma > 0
                             ? sigma / sqrt(in->weight[t] * (double)in->n_channels)
                             : INFINITY;
    band->interval_s = in->interval_s;
    band->frequency_hz = middle_hz(in);
    *out = band;
    return status;
}

static void add_turned(wf_fringe_series *sum, const wf_fringe_series *band, double complex turn)
{
    for (size_t t = 0; t < band->n_times; t++) {
        if (!wfi_series_valid(band, t))
            continue;
        const double weight = 1 / (band->sigma[t] * band->sigma[t]);
        sum->fringe[t] += weight * turn * band->fringe[t];
        sum->sigma[t] += weight;
    }
}

/* The turn that brings a band to the phase of the sum of the others. */
static double complex turn_to(const wf_fringe_series *sum, const wf_fringe_series *band,
                              double complex own)
{
    double complex product = 0;
    for (size_t t = 0; t < band->n_times; t++) {
        if (!wfi_series_valid(band, t))
            continue;
        const double weight = 1 / (band->sigma[t] * band->sigma[t]);
        const double complex others = sum->fringe[t] - weight * own * band->fringe[t];
        product += weight * others * conj(band->fringe[t]);
    }
    const double modulus = cabs(product);
    return modulus > 0 ? product / modulus : own;
}

/* First each band to the sum of those before it, then each to all the others. The first band keeps
 * its phase. */
static void add_bands(wf_fringe_series *sum, wf_fringe_series *const *bands, size_t n_bands,
                      double complex *turns)
{
    for (size_t b = 0; b < n_bands; b++) {
        turns[b] = b == 0 ? 1 : turn_to(sum, bands[b], 0);
        add_turned(sum, bands[b], turns[b]);
    }
    for (size_t b = 1; b < n_bands; b++)
        turns[b] = turn_to(sum, bands[b], turns[b]);
    for (size_t t = 0; t < sum->n_times; t++) {
        sum->fringe[t] = 0;
        sum->sigma[t] = 0;
    }
    for (size_t b = 0; b < n_bands; b++)
        add_turned(sum, bands[b], turns[b]);
}

static double mean_frequency_hz(wf_fringe_series *const *bands, size_t n_bands)
{
    double sum = 0;
    double total = 0;
    for (size_t b = 0; b < n_bands; b++) {
        for (size_t t = 0; t < bands[b]->n_times; t++) {
            if (!wfi_series_valid(bands[b], t))
                continue;
            const double weight = 1 / (bands[b]->sigma[t] * bands[b]->sigma[t]);
            sum += weight * bands[b]->frequency_hz;
            total += weight;
        }
    }
    return sum / total;
}

/* Sums of weighted values and of weights become means and their noise. */
static void normalise(wf_fringe_series *sum)
{
    for (size_t t = 0; t < sum->n_times; t++) {
        const double total = sum->sigma[t];
        sum->fringe[t] = total > 0 ? sum->fringe[t] / total : 0;
        sum->sigma[t] = total > 0 ? 1 / sqrt(total) : INFINITY;
    }
}

wf_status wf_fringe_series_create(wf_fringe_series **out, const wf_fringe_input *inputs,
                                  size_t n_inputs, double delay_s, double rate_s_per_s,
                                  wf_error *err)
{
    *out = NULL;
    WFI_TRY(check(inputs, n_inputs, err));
    wf_fringe_series **bands = NULL;
    double complex *turns = NULL;
    wf_fringe_series *sum = NULL;
    wf_status status = wfi_allocate(&bands, n_inputs, sizeof *bands, "bands in time", err);
    if (status == WF_OK)
        status = wfi_allocate(&turns, n_inputs, sizeof *turns, "phases of bands", err);
    for (size_t b = 0; b < n_inputs && status == WF_OK; b++)
        status = make_band(&bands[b], &inputs[b], b, delay_s, rate_s_per_s, err);
    if (status == WF_OK)
        status = wfi_series_create(&sum, inputs[0].n_times, err);
    if (status != WF_OK)
        goto done;
    add_bands(sum, bands, n_inputs, turns);
    normalise(sum);
    sum->interval_s = inputs[0].interval_s;
    sum->frequency_hz = mean_frequency_hz(bands, n_inputs);
    if (wfi_series_n_valid(sum) < TIMES_MIN)
        status = wfi_fail(err, WF_RANGE,
                          "%zu valid integrations in a band; a fringe in time needs %d: choose a "
                          "longer stretch",
                          wfi_series_n_valid(sum), TIMES_MIN);
done:
    for (size_t b = 0; b < n_inputs && bands != NULL; b++)
        wf_fringe_series_destroy(bands[b]);
    wfi_free(bands);
    wfi_free(turns);
    if (status == WF_OK)
        *out = sum;
    else
        wf_fringe_series_destroy(sum);
    return status;
}
