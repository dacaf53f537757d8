/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one core can do at best. The least of several times is the limit: nothing but disturbances
 * can make one longer. */
#include "throughput/limits.h"

#include "base/status.h"
#include "throughput/fma_peak.h"

enum { REPEATS = 7, FMA_ROUNDS = 20000 };
static const size_t SAMPLES = (size_t)1 << 21;

static double least(double best, double t)
{
    return best == 0 || t < best ? t : best;
}

static void measure_fma(wfi_limits *out, wfi_clock now_s)
{
    const wfi_fma_peak peak = wfi_fma_peak_here();
    double best_s = 0;
    volatile float used = 0; /* so that the sums are needed */
    for (int i = 0; i < REPEATS; i++) {
        const double begin = now_s();
        used = peak.run(FMA_ROUNDS);
        best_s = least(best_s, now_s() - begin);
    }
    (void)used;
    out->fma_vectors = peak.name;
    out->fma_flops_per_s = best_s > 0 ? (double)peak.flops * FMA_ROUNDS / best_s : 0;
}

static wf_status measure_transform(double *out, wfi_bare_kind kind, size_t n_fft, wfi_clock now_s,
                                   wf_error *err)
{
    wfi_bare_fft *bare = NULL;
    const size_t n = SAMPLES / n_fft + 1;
    double best_s = 0;
    WFI_TRY(wfi_bare_fft_create(&bare, kind, n_fft, WFI_BARE_QUICK, now_s, err));
    for (int i = 0; i < REPEATS; i++) {
        const double begin = now_s();
        wfi_bare_fft_run(bare, n);
        best_s = least(best_s, now_s() - begin);
    }
    wfi_bare_fft_destroy(bare);
    *out = least(*out, best_s / (double)n);
    return WF_OK;
}

wf_status wfi_limits_measure(wfi_limits *out, const wfi_scene_setup *setup, wfi_clock now_s,
                             wf_error *err)
{
    const size_t n_fft = wfi_scene_n_fft(setup);
    *out = (wfi_limits){0};
    measure_fma(out, now_s);
    if (setup->is_complex) {
        WFI_TRY(measure_transform(&out->transform_s, WFI_BARE_COMPLEX, n_fft, now_s, err));
    } else {
        WFI_TRY(measure_transform(&out->transform_s, WFI_BARE_REAL, n_fft, now_s, err));
        WFI_TRY(measure_transform(&out->transform_s, WFI_BARE_PACKED, n_fft, now_s, err));
    }
    out->segment_s = wfi_limits_segment_s(out, setup);
    return WF_OK;
}

double wfi_limits_segment_s(const wfi_limits *limits, const wfi_scene_setup *setup)
{
    const double n_streams = (double)wfi_scene_n_streams(setup);
    return n_streams * limits->transform_s +
           WFI_FLOPS_OF_A_PRODUCT * wfi_scene_products(setup) / limits->fma_flops_per_s;
}
