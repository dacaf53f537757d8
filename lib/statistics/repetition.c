/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data that come again: peaks of the autocorrelation of whitened samples. */
#include "statistics/repetition.h"

#include <math.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "statistics/normal.h"
#include "statistics/tones.h"

enum { SHORTEST_LAG = 64 };
static const double FALSE_ALARM = 1e-7;
/* Bins further above the level than this are lines. */
static const double CLIP = 6.0;

/* Spectrum over its level, mean 1, lines cut down; symmetric for real samples. */
static void whiten(fftwf_complex *out, const wfi_spectrum_sums *sums, const double *level)
{
    const size_t n_bins = sums->plan->n_bins;
    const double clip = 1.0 + CLIP / sqrt(sums->n);
    double mean = 0;
    for (size_t k = 0; k < n_bins; k++) {
        double p = sums->power[k] / level[k];
        p = p > clip ? 1.0 : p;
        out[k][0] = (float)p;
        out[k][1] = 0;
        mean += p / (double)n_bins;
    }
    for (size_t k = 0; k < n_bins; k++)
        out[k][0] = out[k][0] / (float)mean - 1.0f;
}

/* |autocorrelation| by lag, mean square of zero lag 1. [n_padded] */
static wf_status correlate(float *out, const wfi_spectrum_sums *sums, const double *level,
                           wf_error *err)
{
    const wfi_spectrum_plan *plan = sums->plan;
    const size_t n = plan->n_padded;
    fftwf_complex *bins = NULL;
    fftwf_complex *lags = NULL;
    wf_status status = wfi_allocate(&bins, n, sizeof *bins, "an autocorrelation", err);
    if (status == WF_OK)
        status = wfi_allocate(&lags, n, sizeof *lags, "an autocorrelation", err);
    if (status == WF_OK) {
        wfi_fftw_lock();
        const fftwf_plan back = fftwf_plan_dft_1d((int)n, bins, lags, FFTW_BACKWARD, FFTW_ESTIMATE);
        wfi_fftw_unlock();
        whiten(bins, sums, level);
        for (size_t k = 1; plan->n_parts == 1 && k < plan->n_bins; k++)
            bins[n - k][0] = bins[k][0];
        if (back != NULL)
            fftwf_execute(back);
        else
            status = wfi_fail(err, WF_MEMORY, "out of memory for an autocorrelation");
        for (size_t k = 0; k < n; k++)
            out[k] = hypotf(lags[k][0], lags[k][1]) / (float)n;
        wfi_fftw_lock();
        if (back != NULL)
            fftwf_destroy_plan(back);
        wfi_fftw_unlock();
    }
    wfi_free(bins);
    wfi_free(lags);
    return status;
}

static void insert(wf_repetition *found, size_t *n, size_t n_max, wf_repetition r)
{
    size_t i = *n < n_max ? (*n)++ : n_max;
    if (i == n_max && found[n_max - 1].significance >= r.significance)
        return;
    i = i == n_max ? n_max - 1 : i;
    for (; i > 0 && found[i - 1].significance < r.significance; i--)
        found[i] = found[i - 1];
    found[i] = r;
}

/* Of M transforms of n samples, lag k has M (n - k) products; the spectrum's mean square holds
 * M n. A product of complex samples has half its noise in either part. */
static void search(wf_repetition *found, size_t n_max, size_t *n, const wfi_spectrum_sums *sums,
                   const float *height)
{
    const double n_fft = (double)sums->plan->n_fft;
    const double parts = (double)sums->plan->n_parts;
    const size_t end = sums->plan->n_fft - sums->plan->n_fft / 16;
    const double p = FALSE_ALARM / (double)sums->plan->n_fft;
    const double least = parts == 2 ? sqrt(-2.0 * log(p)) : wfi_normal_quantile_above(0.5 * p);
    for (size_t k = SHORTEST_LAG; k + 1 < end; k++) {
        const double overlap = 1.0 - (double)k / n_fft;
        const double sigma = sqrt(overlap / (parts * sums->n * n_fft));
        const double high = (double)height[k];
        if (high < least * sigma || height[k] < height[k - 1] || height[k] <= height[k + 1])
            continue;
        insert(found, n, n_max,
               (wf_repetition){.lag_samples = (int64_t)k,
                               .coefficient = fmin(high / overlap, 1.0),
                               .significance = high / sigma});
    }
}

wf_status wfi_find_repetitions(wf_repetition *found, size_t n_max, size_t *n,
                               const wfi_spectrum_sums *sums, wf_error *err)
{
    double *level = NULL;
    float *height = NULL;
    *n = 0;
    if (!(sums->n > 0) || sums->plan->n_fft < 4 * SHORTEST_LAG)
        return WF_OK;
    wf_status status =
        wfi_allocate(&level, sums->plan->n_bins, sizeof *level, "an autocorrelation", err);
    if (status == WF_OK)
        status =
            wfi_allocate(&height, sums->plan->n_padded, sizeof *height, "an autocorrelation", err);
    if (status == WF_OK)
        status = wfi_spectrum_level(level, sums->power, sums->plan->n_bins, sums->n, err);
    if (status == WF_OK)
        status = correlate(height, sums, level, err);
    if (status == WF_OK)
        search(found, n_max, n, sums, height);
    wfi_free(level);
    wfi_free(height);
    return status;
}
