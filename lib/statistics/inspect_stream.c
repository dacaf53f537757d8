/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is summed over one stream while a recording is inspected, and what it says. */
#include "statistics/inspect_stream.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "statistics/kurtosis.h"
#include "statistics/repetition.h"
#include "statistics/tones.h"

enum {
    CHANNELS_MOST = 512,
    COARSE_SPECTRA = 32, /* at least, where the recording is long enough */
    FINE_LONGEST = 1 << 16,
    FINE_SHORTEST = 256,
    FINE_SPECTRA = 8, /* at least, where the recording is long enough */
    UNIT_MOST = 1 << 12,
    DECODE_STEP = 1 << 12,
};
/* Combs are looked for at spacings that are multiples of this: bins of the fine spectra, too. */
static const int64_t COMB_UNIT_HZ = 100000;

static int64_t common_divisor(int64_t a, int64_t b)
{
    return b == 0 ? a : common_divisor(b, a % b);
}

static size_t power_of_two_below(int64_t n)
{
    size_t p = 1;
    while (2 * (int64_t)p <= n)
        p *= 2;
    return p;
}

/* Even, and such that a comb's spacing is a whole number of bins where that can be. */
static size_t fine_length(int64_t rate_hz, int64_t place_samples, int64_t n_places)
{
    int64_t n = place_samples * n_places / FINE_SPECTRA;
    n = n < FINE_SHORTEST ? FINE_SHORTEST : n > FINE_LONGEST ? FINE_LONGEST : n;
    n = n < place_samples ? n : place_samples;
    const int64_t unit = 2 * (rate_hz / common_divisor(rate_hz, COMB_UNIT_HZ));
    if (unit <= UNIT_MOST && unit <= n)
        return (size_t)(n / unit * unit);
    return power_of_two_below(n);
}

static size_t coarse_channels(size_t n_parts, int64_t place_samples, int64_t n_places, size_t asked)
{
    const int64_t parts = n_parts == 2 ? 1 : 2;
    if (asked > 0)
        return asked;
    int64_t n = place_samples * n_places / (COARSE_SPECTRA * parts);
    n = n < CHANNELS_MOST ? n : CHANNELS_MOST;
    return power_of_two_below(n > 8 ? n : 8);
}

wf_status wfi_stream_plans_create(wfi_stream_plans *out, const wf_recording_info *info,
                                  size_t n_parts, int64_t place_samples, int64_t n_places,
                                  size_t n_channels, wf_error *err)
{
    const size_t channels = coarse_channels(n_parts, place_samples, n_places, n_channels);
    const size_t coarse = n_parts == 2 ? channels : 2 * channels;
    const size_t fine = fine_length(info->sample_rate_hz, place_samples, n_places);
    const size_t lag = power_of_two_below(place_samples);
    WFI_TRY(wfi_spectrum_plan_create(&out->coarse, n_parts, coarse, coarse, WFI_WINDOW_NONE, err));
    WFI_TRY(wfi_spectrum_plan_create(&out->fine, n_parts, fine, fine, WFI_WINDOW_HANN, err));
    return wfi_spectrum_plan_create(&out->lag, n_parts, lag, 2 * lag, WFI_WINDOW_NONE, err);
}

void wfi_stream_plans_release(wfi_stream_plans *plans)
{
    wfi_spectrum_plan_release(&plans->coarse);
    wfi_spectrum_plan_release(&plans->fine);
    wfi_spectrum_plan_release(&plans->lag);
}

wf_status wfi_stream_sums_create(wfi_stream_sums *out, const wf_recording_info *info,
                                 size_t i_thread, uint32_t channel, const wfi_stream_plans *plans,
                                 wf_error *err)
{
    *out = (wfi_stream_sums){.i_thread = i_thread, .channel = channel};
    WFI_TRY(wfi_decoder_init(&out->decoder, info->threads[i_thread].format, err));
    WFI_TRY(wfi_spectrum_sums_create(&out->coarse, &plans->coarse, err));
    WFI_TRY(wfi_spectrum_sums_create(&out->fine, &plans->fine, err));
    return wfi_spectrum_sums_create(&out->lag, &plans->lag, err);
}

void wfi_stream_sums_release(wfi_stream_sums *sums)
{
    wfi_spectrum_sums_release(&sums->coarse);
    wfi_spectrum_sums_release(&sums->fine);
    wfi_spectrum_sums_release(&sums->lag);
}

wf_status wfi_decoded_create(wfi_decoded *out, size_t capacity, wf_error *err)
{
    *out = (wfi_decoded){0};
    WFI_TRY(wfi_allocate(&out->codes, 2 * capacity, 1, "decoded samples", err));
    return wfi_allocate(&out->levels, 2 * capacity, sizeof(float), "decoded samples", err);
}

void wfi_decoded_release(wfi_decoded *decoded)
{
    wfi_free(decoded->codes);
    wfi_free(decoded->levels);
    *decoded = (wfi_decoded){0};
}

static void count_run(wfi_stream_sums *s, const wf_packed *packed, int64_t first, size_t n,
                      wfi_decoded *scratch)
{
    const wfi_decoder *decoder = &s->decoder;
    const size_t parts = decoder->n_parts;
    if (decoder->n_codes > 0)
        wfi_decode_codes(decoder, packed, s->channel, first, n, scratch->codes);
    else
        wfi_decode_levels(decoder, packed, s->channel, first, n, NULL, scratch->levels);
    for (size_t p = 0; p < parts; p++) {
        if (decoder->n_codes > 0)
            wfi_sampler_count_codes(&s->counts[p], scratch->codes + p, n, parts);
        else
            wfi_sampler_count_levels(&s->counts[p], decoder, scratch->levels + p, n, parts);
    }
}

void wfi_stream_count(wfi_stream_sums *sums, const wf_packed *packed, int64_t first, size_t n,
                      wfi_decoded *scratch)
{
    const int64_t end = first + (int64_t)n;
    int64_t at = wfi_next_valid(packed, first, n);
    while (at < end) {
        size_t run = wfi_valid_run(packed, at, (size_t)(end - at));
        run = run < DECODE_STEP ? run : DECODE_STEP;
        count_run(sums, packed, at, run, scratch);
        at += (int64_t)run;
        at = at < end ? wfi_next_valid(packed, at, (size_t)(end - at)) : end;
    }
}

static void add_spectra(wfi_spectrum_sums *sums, const float *x, size_t n)
{
    const size_t length = sums->plan->n_fft;
    for (size_t i = 0; i + length <= n; i += length)
        wfi_spectrum_add(sums, x + i * sums->plan->n_parts);
}

void wfi_stream_transform(wfi_stream_sums *sums, const wf_packed *packed, int64_t first, size_t n,
                          wfi_decoded *scratch)
{
    const int64_t end = first + (int64_t)n;
    int64_t at = wfi_next_valid(packed, first, n);
    while (at < end) {
        const size_t run = wfi_valid_run(packed, at, (size_t)(end - at));
        if (sums->decoder.n_codes > 0)
            wfi_decode_codes(&sums->decoder, packed, sums->channel, at, run, scratch->codes);
        wfi_decode_levels(&sums->decoder, packed, sums->channel, at, run, scratch->codes,
                          scratch->levels);
        add_spectra(&sums->coarse, scratch->levels, run);
        add_spectra(&sums->fine, scratch->levels, run);
        add_spectra(&sums->lag, scratch->levels, run);
        at += (int64_t)run;
        at = at < end ? wfi_next_valid(packed, at, (size_t)(end - at)) : end;
    }
}

static void judge_samplers(wf_stream_statistics *out, const wfi_stream_sums *sums)
{
    out->power = 0;
    for (size_t p = 0; p < sums->decoder.n_parts; p++) {
        wfi_sampler_judge(&out->component[p], &sums->decoder, &sums->counts[p]);
        out->power += out->component[p].rms * out->component[p].rms;
    }
}

/* Power is that of white noise where it is 1: |X|^2 of a transform of n samples is n times the
 * mean square. */
static void judge_spectrum(wf_stream_statistics *out, const wfi_stream_sums *sums,
                           double kurtosis_sigma)
{
    const wfi_spectrum_sums *s = &sums->coarse;
    const double white = out->power * s->n * (double)s->plan->n_fft;
    const double parts = (double)s->plan->n_parts;
    const double expected = wfi_kurtosis_of_quantised(
        wfi_sampler_excess(&sums->decoder, &sums->counts[0]), (double)s->plan->n_fft, parts);
    for (size_t k = 0; k < s->plan->n_bins; k++) {
        const double d = s->plan->n_parts == 1 && k == 0 ? 0.5 : 1.0;
        out->spectrum[k] = white > 0 ? s->power[k] / white : 0.0;
        out->kurtosis[k] =
            wfi_kurtosis(s->n, d, s->power[k], s->power_square[k]) - (expected - 1.0);
    }
    out->n_spectra = s->n;
    out->kurtosis_low = 0;
    out->kurtosis_high = INFINITY;
    if (s->n >= 2)
        wfi_kurtosis_bounds(s->n, 1.0, kurtosis_sigma, &out->kurtosis_low, &out->kurtosis_high);
}

static wf_status judge_tones(wf_stream_statistics *out, const wfi_stream_sums *sums, double rate_hz,
                             wf_error *err)
{
    const wfi_spectrum_sums *s = &sums->fine;
    const double first_hz = s->plan->n_parts == 2 ? -0.5 * rate_hz : 0.0;
    double *level = NULL;
    if (!(s->n > 0) || !(out->power > 0))
        return WF_OK;
    WFI_TRY(wfi_allocate(&level, s->plan->n_bins, sizeof *level, "tones", err));
    const wf_status status = wfi_spectrum_level(level, s->power, s->plan->n_bins, s->n, err);
    if (status == WF_OK)
        out->n_tones = wfi_find_tones(out->tones, WF_TONES_MAX, s->power, level, s->plan->n_bins,
                                      s->n, first_hz, rate_hz / (double)s->plan->n_fft);
    wfi_free(level);
    return status;
}

wf_status wfi_stream_judge(wf_stream_statistics *out, const wfi_stream_sums *sums,
                           const wf_recording_info *info, double kurtosis_sigma, wf_error *err)
{
    const double rate_hz = (double)info->sample_rate_hz;
    const size_t n = sums->coarse.plan->n_bins;
    out->i_thread = sums->i_thread;
    out->thread = info->threads[sums->i_thread].thread;
    out->channel = sums->channel;
    out->format = info->threads[sums->i_thread].format;
    out->n_channels = n;
    out->channel_hz = rate_hz / (double)sums->coarse.plan->n_fft;
    out->first_hz = sums->coarse.plan->n_parts == 2 ? -0.5 * rate_hz : 0.0;
    WFI_TRY(wfi_allocate(&out->spectrum, n, sizeof(double), "a spectrum", err));
    WFI_TRY(wfi_allocate(&out->kurtosis, n, sizeof(double), "a spectrum", err));
    WFI_TRY(wfi_allocate(&out->tones, WF_TONES_MAX, sizeof(wf_tone), "tones", err));
    WFI_TRY(wfi_allocate(&out->repetitions, WF_REPETITIONS_MAX, sizeof(wf_repetition),
                         "repetitions", err));
    judge_samplers(out, sums);
    judge_spectrum(out, sums, kurtosis_sigma);
    WFI_TRY(judge_tones(out, sums, rate_hz, err));
    if (!(out->power > 0))
        return WF_OK;
    return wfi_find_repetitions(out->repetitions, WF_REPETITIONS_MAX, &out->n_repetitions,
                                &sums->lag, err);
}
