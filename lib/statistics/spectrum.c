/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Power spectra of one stream. */
#include "statistics/spectrum.h"

#include <limits.h>
#include <math.h>
#include <string.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

static wf_status make_window(wfi_spectrum_plan *plan, wf_error *err)
{
    WFI_TRY(wfi_allocate(&plan->window, plan->n_fft, sizeof(float), "a window", err));
    for (size_t i = 0; i < plan->n_fft; i++) {
        const double turns = ((double)i + 0.5) / (double)plan->n_fft;
        plan->window[i] = (float)(0.5 - 0.5 * cos(WFI_RAD_PER_TURN * turns));
    }
    return WF_OK;
}

static wf_status plan_transform(wfi_spectrum_plan *plan, wf_error *err)
{
    float *in = NULL;
    fftwf_complex *out = NULL;
    if (plan->n_padded > INT_MAX / 2)
        return wfi_fail(err, WF_UNSUPPORTED, "a transform of %zu samples", plan->n_padded);
    wf_status status =
        wfi_allocate(&in, plan->n_padded * plan->n_parts, sizeof *in, "a transform", err);
    if (status == WF_OK)
        status = wfi_allocate(&out, plan->n_padded + 1, sizeof *out, "a transform", err);
    if (status == WF_OK) {
        const int n = (int)plan->n_padded;
        wfi_fftw_lock();
        plan->transform =
            plan->n_parts == 2
                ? fftwf_plan_dft_1d(n, (fftwf_complex *)in, out, FFTW_FORWARD,
                                    FFTW_ESTIMATE | FFTW_PRESERVE_INPUT)
                : fftwf_plan_dft_r2c_1d(n, in, out, FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
        wfi_fftw_unlock();
        if (plan->transform == NULL)
            status = wfi_fail(err, WF_MEMORY, "out of memory for a transform");
    }
    wfi_free(in);
    wfi_free(out);
    return status;
}

wf_status wfi_spectrum_plan_create(wfi_spectrum_plan *out, size_t n_parts, size_t n_fft,
                                   size_t n_padded, wfi_spectrum_window window, wf_error *err)
{
    *out = (wfi_spectrum_plan){.n_parts = n_parts,
                               .n_fft = n_fft,
                               .n_padded = n_padded,
                               .n_bins = n_parts == 2 ? n_padded : n_padded / 2};
    wf_status status = window == WFI_WINDOW_HANN ? make_window(out, err) : WF_OK;
    if (status == WF_OK)
        status = plan_transform(out, err);
    if (status != WF_OK)
        wfi_spectrum_plan_release(out);
    return status;
}

void wfi_spectrum_plan_release(wfi_spectrum_plan *plan)
{
    wfi_free(plan->window);
    wfi_fftw_lock();
    if (plan->transform != NULL)
        fftwf_destroy_plan(plan->transform);
    wfi_fftw_unlock();
    *plan = (wfi_spectrum_plan){0};
}

wf_status wfi_spectrum_sums_create(wfi_spectrum_sums *out, const wfi_spectrum_plan *plan,
                                   wf_error *err)
{
    *out = (wfi_spectrum_sums){.plan = plan};
    WFI_TRY(
        wfi_allocate(&out->samples, plan->n_padded * plan->n_parts, sizeof(float), "spectra", err));
    WFI_TRY(wfi_allocate(&out->bins, plan->n_padded + 1, sizeof *out->bins, "spectra", err));
    WFI_TRY(wfi_allocate(&out->power, plan->n_bins, sizeof(double), "spectra", err));
    return wfi_allocate(&out->power_square, plan->n_bins, sizeof(double), "spectra", err);
}

void wfi_spectrum_sums_release(wfi_spectrum_sums *sums)
{
    wfi_free(sums->samples);
    wfi_free(sums->bins);
    wfi_free(sums->power);
    wfi_free(sums->power_square);
    *sums = (wfi_spectrum_sums){0};
}

void wfi_spectrum_sums_clear(wfi_spectrum_sums *sums)
{
    memset(sums->power, 0, sums->plan->n_bins * sizeof(double));
    memset(sums->power_square, 0, sums->plan->n_bins * sizeof(double));
    sums->n = 0;
}

static void place_samples(wfi_spectrum_sums *sums, const float *x)
{
    const wfi_spectrum_plan *plan = sums->plan;
    const size_t parts = plan->n_parts;
    if (plan->window == NULL) {
        memcpy(sums->samples, x, plan->n_fft * parts * sizeof(float));
        return;
    }
    for (size_t i = 0; i < plan->n_fft; i++) {
        for (size_t p = 0; p < parts; p++)
            sums->samples[i * parts + p] = x[i * parts + p] * plan->window[i];
    }
}

void wfi_spectrum_add(wfi_spectrum_sums *sums, const float *x)
{
    const wfi_spectrum_plan *plan = sums->plan;
    place_samples(sums, x);
    if (plan->n_parts == 2)
        fftwf_execute_dft(plan->transform, (fftwf_complex *)sums->samples, sums->bins);
    else
        fftwf_execute_dft_r2c(plan->transform, sums->samples, sums->bins);
    /* complex: the second half of the bins are the negative frequencies, which come first */
    const size_t half = plan->n_parts == 2 ? (plan->n_bins + 1) / 2 : 0;
    for (size_t k = 0; k < plan->n_bins; k++) {
        const size_t from = plan->n_parts == 2 ? (k + half) % plan->n_bins : k;
        const double re = (double)sums->bins[from][0];
        const double im = (double)sums->bins[from][1];
        const double power = re * re + im * im;
        sums->power[k] += power;
        sums->power_square[k] += power * power;
    }
    sums->n += 1.0;
}
