/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine alone, packed two-bit samples in memory to summed visibilities on one thread, against
 * what limits it: the bare transforms, and the multiply-additions at the rate of the core. */
#include <stdio.h>

#include "engine_run.h"
#include "interleave.h"
#include "subjects.h"
#include "throughput/kernel_cases.h"
#include "throughput/limits.h"

/* The bare transforms of one number of channels. */
typedef struct limits {
    wfi_bare_fft *real;
    wfi_bare_fft *packed;
} limits;

typedef struct figures {
    double engine_s;
    double fft_s;
    double r2c_s;
    double cross_limit_s;
    double cross_fraction;
    double unpack_samples_per_s;
} figures;

static figures take_figures(const wfi_scene_setup *setup, double engine_s, double r2c_s,
                            double packed_s, double flops_per_s)
{
    return (figures){
        .engine_s = engine_s,
        .fft_s = r2c_s < packed_s ? r2c_s : packed_s,
        .r2c_s = r2c_s,
        .cross_limit_s = wfi_scene_products(setup) * (double)setup->n_segments *
                         WFI_FLOPS_OF_A_PRODUCT / flops_per_s,
    };
}

static void print_case(const bench_arguments *asked, const wfi_scene_setup *setup,
                       const figures *median, const figures *least)
{
    static const char machine[] =
        "{\"stations\": %zu, \"channels\": %zu, \"t_engine_s\": %.6g, \"t_fft_s\": %.6g, "
        "\"t_r2c_s\": %.6g, \"t_cross_limit_s\": %.6g, \"ratio_limit\": %.5g, "
        "\"ratio_r2c\": %.5g, \"cross_fraction_of_peak\": %.4g, \"unpack_samples_per_s\": %.5g, "
        "\"kernels\": \"%s\"}\n";
    const double limit_s = median->fft_s + median->cross_limit_s;
    const double least_limit_s = least->fft_s + least->cross_limit_s;
    const char *kernels = bench_kernels_name(asked->kernels);
    if (asked->json)
        printf(machine, setup->n_stations, setup->n_channels, median->engine_s, median->fft_s,
               median->r2c_s, median->cross_limit_s, median->engine_s / limit_s,
               median->engine_s / median->r2c_s, median->cross_fraction,
               median->unpack_samples_per_s, kernels);
    else
        printf("%8zu %8zu  %9.3f %9.3f %9.3f %9.3f  %6.3f (%.3f)  %6.3f (%.3f)  %5.1f %%  %6.2f  "
               "%s\n",
               setup->n_stations, setup->n_channels, 1e3 * median->engine_s, 1e3 * median->fft_s,
               1e3 * median->r2c_s, 1e3 * median->cross_limit_s, median->engine_s / limit_s,
               least->engine_s / least_limit_s, median->engine_s / median->r2c_s,
               least->engine_s / least->r2c_s, 100 * median->cross_fraction,
               1e-9 * median->unpack_samples_per_s, kernels);
    fflush(stdout);
}

static bool time_case(const bench_arguments *asked, const limits *bare, bench_engine *run,
                      wfi_kernel_case *cross, wfi_kernel_case *unpack)
{
    const wfi_scene_setup *setup = &run->setup;
    wfi_fma_peak peak = wfi_fma_peak_here();
    const size_t n = (size_t)wfi_scene_samples(setup) / wfi_scene_n_fft(setup);
    bench_transforms real_run = {bare->real, n};
    bench_transforms packed_run = {bare->packed, n};
    bench_subject engine = {.run = bench_engine_run, .context = run};
    bench_subject real = {.run = bench_transforms_run, .context = &real_run};
    bench_subject packed = {.run = bench_transforms_run, .context = &packed_run};
    bench_subject fma = {.run = bench_fma_run, .context = &peak};
    bench_subject crossing = {.run = bench_kernel_run, .context = cross};
    bench_subject unpacking = {.run = bench_kernel_run, .context = unpack};
    bench_subject *const subjects[] = {&engine, &real, &packed, &fma, &crossing, &unpacking};
    if (!bench_interleave(subjects, sizeof subjects / sizeof subjects[0], bench_repeats(asked),
                          bench_clock(asked)))
        return false;
    const double median_flops_per_s = bench_fma_flops(&peak) / bench_subject_median(&fma);
    figures median = take_figures(setup, bench_subject_median(&engine), bench_subject_median(&real),
                                  bench_subject_median(&packed), median_flops_per_s);
    const figures least = take_figures(setup, bench_subject_least(&engine),
                                       bench_subject_least(&real), bench_subject_least(&packed),
                                       bench_fma_flops(&peak) / bench_subject_least(&fma));
    median.cross_fraction =
        wfi_kernel_case_amount(cross) / bench_subject_median(&crossing) / median_flops_per_s;
    median.unpack_samples_per_s = wfi_kernel_case_amount(unpack) / bench_subject_median(&unpacking);
    print_case(asked, setup, &median, &least);
    return true;
}

static bool measure(const bench_arguments *asked, const limits *bare, size_t n_stations,
                    size_t n_channels)
{
    const wfi_scene_setup setup = bench_engine_setup(asked, n_stations, n_channels);
    bench_engine run;
    wfi_kernel_case *cross = NULL;
    wfi_kernel_case *unpack = NULL;
    const bool done =
        bench_engine_open(&run, &setup) &&
        wfi_kernel_case_create(&cross, WFI_KERNEL_CROSS, &setup, &run.err) == WF_OK &&
        wfi_kernel_case_create(&unpack, WFI_KERNEL_UNPACK, &setup, &run.err) == WF_OK &&
        time_case(asked, bare, &run, cross, unpack);
    if (!done)
        fprintf(stderr, "%zu stations, %zu channels: %s\n", n_stations, n_channels,
                run.err.message);
    wfi_kernel_case_destroy(unpack);
    wfi_kernel_case_destroy(cross);
    bench_engine_close(&run);
    return done;
}

static bool measure_channels(const bench_arguments *asked, size_t n_channels)
{
    const wfi_bare_effort effort = asked->quick ? WFI_BARE_QUICK : WFI_BARE_PATIENT;
    wf_error err = WF_ERROR_INIT;
    limits bare = {NULL, NULL};
    bool done = wfi_bare_fft_create(&bare.real, WFI_BARE_REAL, 2 * n_channels, effort,
                                    bench_thread_s, &err) == WF_OK &&
                wfi_bare_fft_create(&bare.packed, WFI_BARE_PACKED, 2 * n_channels, effort,
                                    bench_thread_s, &err) == WF_OK;
    if (!done)
        fprintf(stderr, "%s\n", err.message);
    for (size_t s = 0; s < asked->stations.n && done; s++)
        done = measure(asked, &bare, asked->stations.values[s], n_channels);
    wfi_bare_fft_destroy(bare.real);
    wfi_bare_fft_destroy(bare.packed);
    return done;
}

static void print_heading(void)
{
    printf("one thread, 2-bit real samples in memory, two polarizations, all products; medians (of "
           "the least times); FMA peak: %s\n",
           wfi_fma_peak_here().name);
    printf("%8s %8s  %9s %9s %9s %9s  %-14s  %-14s  %-7s  %-6s\n", "stations", "channels",
           "engine/ms", "fft/ms", "r2c/ms", "cross/ms", "engine/limit", "engine/r2c", "cross",
           "unpack");
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
    if (!asked.json)
        print_heading();
    for (size_t c = 0; c < asked.channels.n; c++) {
        if (!measure_channels(&asked, asked.channels.values[c]))
            return 3;
    }
    return 0;
}
