/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the rotation before the FFT costs: a job at 230 GHz, which needs it, against the same job
 * with the rotation after the FFT. The engine alone, one thread. */
#include <stdio.h>

#include "engine_run.h"
#include "interleave.h"
#include "subjects.h"

static const double EDGE_HZ = 230e9;

static void print_case(const bench_arguments *asked, const wfi_scene_setup *setup, double after_s,
                       double before_s)
{
    const double n = wfi_scene_samples(setup);
    const char *kernels = bench_kernels_name(asked->kernels);
    if (asked->json)
        printf("{\"stations\": %zu, \"channels\": %zu, \"samples_per_s_after_fft\": %.5g, "
               "\"samples_per_s_before_fft\": %.5g, \"ratio_before_after\": %.4g, "
               "\"kernels\": \"%s\"}\n",
               setup->n_stations, setup->n_channels, n / after_s, n / before_s, before_s / after_s,
               kernels);
    else
        printf("%3zu stations %6zu channels  after the FFT %7.1f, before it %7.1f Msample/s  "
               "ratio %.3f  %s\n",
               setup->n_stations, setup->n_channels, 1e-6 * n / after_s, 1e-6 * n / before_s,
               before_s / after_s, kernels);
    fflush(stdout);
}

static bool measure(const bench_arguments *asked, size_t n_stations, size_t n_channels)
{
    wfi_scene_setup setup = bench_engine_setup(asked, n_stations, n_channels);
    bench_engine after;
    bench_engine before;
    setup.edge_hz = EDGE_HZ;
    bool done = bench_engine_open(&after, &setup);
    setup.rotation = WF_ROTATION_BEFORE_FFT;
    done = bench_engine_open(&before, &setup) && done;
    bench_subject after_subject = {.run = bench_engine_run, .context = &after};
    bench_subject before_subject = {.run = bench_engine_run, .context = &before};
    bench_subject *const subjects[] = {&after_subject, &before_subject};
    done = done && bench_interleave(subjects, 2, bench_repeats(asked), bench_clock(asked));
    if (done)
        print_case(asked, &setup, bench_subject_median(&after_subject),
                   bench_subject_median(&before_subject));
    else
        fprintf(stderr, "%zu stations, %zu channels: %s%s\n", n_stations, n_channels,
                after.err.message, before.err.message);
    bench_engine_close(&after);
    bench_engine_close(&before);
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
    for (size_t c = 0; c < asked.channels.n; c++) {
        for (size_t s = 0; s < asked.stations.n; s++) {
            if (!measure(&asked, asked.stations.values[s], asked.channels.values[c]))
                return 3;
        }
    }
    return 0;
}
