/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kernels alone, data in cache, each against what it cannot beat: the cross-multiplication
 * against the peak of multiply-additions, unpacking against filling its output within the cache,
 * the engine's transform, phases and tiles against the bare transform of the same segment. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "engine_run.h"
#include "interleave.h"
#include "subjects.h"
#include "throughput/kernel_cases.h"

enum { FILLS = 2000 };

/* Floats stored as a segment's are: a memory fill of its length, in cache. */
typedef struct fill {
    float *out; /* [n] */
    size_t n;
} fill;

static bool run_fill(void *context)
{
    const fill *run = context;
    for (int i = 0; i < FILLS; i++) {
        memset(run->out, i & 0xff, run->n * sizeof *run->out);
        __asm__ volatile("" : : "r"(run->out) : "memory"); /* every fill counts */
    }
    return true;
}

static void print_row(const bench_arguments *asked, const wfi_scene_setup *setup,
                      const char *kernel, double per_s, double limit_per_s)
{
    const char *kernels = bench_kernels_name(asked->kernels);
    if (asked->json)
        printf("{\"kernel\": \"%s\", \"stations\": %zu, \"channels\": %zu, \"per_s\": %.5g, "
               "\"limit_per_s\": %.5g, \"fraction_of_limit\": %.4g, \"kernels\": \"%s\"}\n",
               kernel, setup->n_stations, setup->n_channels, per_s, limit_per_s,
               per_s / limit_per_s, kernels);
    else
        printf("%-32s %3zu stations %6zu channels  %9.4g G/s  limit %9.4g G/s  %5.1f %%  %s\n",
               kernel, setup->n_stations, setup->n_channels, 1e-9 * per_s, 1e-9 * limit_per_s,
               100 * per_s / limit_per_s, kernels);
    fflush(stdout);
}

/* limit: something that does limit_amount. */
static bool time_pair(const bench_arguments *asked, const wfi_scene_setup *setup,
                      wfi_kernel_kind kind, const char *name, bench_subject *limit,
                      double limit_amount)
{
    wf_error err = WF_ERROR_INIT;
    wfi_kernel_case *made = NULL;
    if (wfi_kernel_case_create(&made, kind, setup, &err) != WF_OK) {
        fprintf(stderr, "%s\n", err.message);
        return false;
    }
    bench_subject kernel = {.run = bench_kernel_run, .context = made};
    bench_subject *const subjects[] = {&kernel, limit};
    const bool done = bench_interleave(subjects, 2, bench_repeats(asked), bench_clock(asked));
    if (done)
        print_row(asked, setup, name, wfi_kernel_case_amount(made) / bench_subject_median(&kernel),
                  limit_amount / bench_subject_median(limit));
    wfi_kernel_case_destroy(made);
    return done;
}

static bool time_cross(const bench_arguments *asked, const wfi_scene_setup *setup)
{
    wfi_fma_peak peak = wfi_fma_peak_here();
    bench_subject limit = {.run = bench_fma_run, .context = &peak};
    return time_pair(asked, setup, WFI_KERNEL_CROSS, "cross-multiply, flop", &limit,
                     bench_fma_flops(&peak));
}

static bool time_unpack(const bench_arguments *asked, const wfi_scene_setup *setup)
{
    fill run = {.n = wfi_scene_n_fft(setup)};
    run.out = malloc(run.n * sizeof *run.out);
    if (run.out == NULL)
        return false;
    bench_subject limit = {.run = run_fill, .context = &run};
    const bool done = time_pair(asked, setup, WFI_KERNEL_UNPACK, "unpack 2-bit, samples", &limit,
                                (double)run.n * FILLS);
    free(run.out);
    return done;
}

/* The two halves of the way from samples to tiles in batches, where there are any. */
static bool time_batches(const bench_arguments *asked, const wfi_scene_setup *setup,
                         bench_subject *limit, double limit_samples)
{
    wf_error err = WF_ERROR_INIT;
    wfi_kernel_case *made = NULL;
    const wf_status status = wfi_kernel_case_create(&made, WFI_KERNEL_EARLY, setup, &err);
    wfi_kernel_case_destroy(made);
    if (status == WF_UNSUPPORTED)
        return true;
    return time_pair(asked, setup, WFI_KERNEL_EARLY, "unpack, early FFT, samples (FFT)", limit,
                     limit_samples) &&
           time_pair(asked, setup, WFI_KERNEL_LATE, "late FFT, phase, channels (FFT)", limit,
                     limit_samples / 2);
}

/* The engine's transform as it is planned, and the way from its bins to tiles. */
static bool time_transform_and_phase(const bench_arguments *asked, const wfi_scene_setup *setup)
{
    wf_error err = WF_ERROR_INIT;
    wfi_bare_fft *bare = NULL;
    const size_t n_fft = wfi_scene_n_fft(setup);
    if (wfi_bare_fft_create(&bare, WFI_BARE_PACKED, n_fft, WFI_BARE_QUICK, bench_thread_s, &err) !=
        WF_OK) {
        fprintf(stderr, "%s\n", err.message);
        return false;
    }
    bench_transforms run = {bare, ((size_t)1 << 22) / n_fft + 1};
    bench_subject limit = {.run = bench_transforms_run, .context = &run};
    const bool done = time_pair(asked, setup, WFI_KERNEL_TRANSFORM, "transform, samples (bare FFT)",
                                &limit, (double)(run.n * n_fft)) &&
                      time_pair(asked, setup, WFI_KERNEL_PHASE, "phase and tiles, channels (FFT)",
                                &limit, (double)(run.n * setup->n_channels)) &&
                      time_batches(asked, setup, &limit, (double)(run.n * n_fft));
    wfi_bare_fft_destroy(bare);
    return done;
}

int main(int argc, char **argv)
{
    bench_arguments asked = {.stations = {{2, 4, 8, 16}, 4}, .channels = {{256, 1024, 4096}, 3}};
    if (!bench_arguments_parse(&asked, argc, argv))
        return 2;
    if (bench_kernels_name(asked.kernels) == NULL) {
        fprintf(stderr, "%s: there are no kernels \"%s\" on this machine\n", argv[0],
                asked.kernels);
        return 2;
    }
    for (size_t s = 0; s < asked.stations.n; s++) {
        const wfi_scene_setup setup =
            bench_engine_setup(&asked, asked.stations.values[s], asked.channels.values[0]);
        if (!time_cross(&asked, &setup))
            return 3;
    }
    for (size_t c = 0; c < asked.channels.n; c++) {
        const wfi_scene_setup setup =
            bench_engine_setup(&asked, asked.stations.values[0], asked.channels.values[c]);
        if (!time_unpack(&asked, &setup) || !time_transform_and_phase(&asked, &setup))
            return 3;
    }
    return 0;
}
