/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the bench programs time beside the engine: its limits and its kernels. */
#ifndef BENCH_SUBJECTS_H
#define BENCH_SUBJECTS_H

#include <stdbool.h>

#include "arguments.h"
#include "throughput/bare_fft.h"
#include "throughput/fma_peak.h"

/** n bare transforms. */
typedef struct bench_transforms {
    const wfi_bare_fft *bare;
    size_t n;
} bench_transforms;
bool bench_transforms_run(void *transforms);

/** Multiply-additions at the peak. */
bool bench_fma_run(void *wfi_fma_peak);
double bench_fma_flops(const wfi_fma_peak *peak);

/** A kernel alone: context is a wfi_kernel_case. */
bool bench_kernel_run(void *kernel_case);

/** The clock and the number of repetitions that are asked for. */
double (*bench_clock(const bench_arguments *asked))(void);
size_t bench_repeats(const bench_arguments *asked);

#endif
