/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the bench programs time beside the engine. */
#include "subjects.h"

#include "interleave.h"
#include "stopwatch.h"
#include "throughput/kernel_cases.h"

enum { FMA_ROUNDS = 60000, REPEATS = 7, REPEATS_QUICK = 3 };

bool bench_transforms_run(void *context)
{
    const bench_transforms *run = context;
    wfi_bare_fft_run(run->bare, run->n);
    return true;
}

bool bench_fma_run(void *context)
{
    const wfi_fma_peak *peak = context;
    volatile float used = peak->run(FMA_ROUNDS); /* so that the sums are needed */
    (void)used;
    return true;
}

double bench_fma_flops(const wfi_fma_peak *peak)
{
    return (double)peak->flops * FMA_ROUNDS;
}

bool bench_kernel_run(void *context)
{
    wfi_kernel_case_run(context);
    return true;
}

double (*bench_clock(const bench_arguments *asked))(void)
{
    return asked->wall ? bench_now_s : bench_thread_s;
}

size_t bench_repeats(const bench_arguments *asked)
{
    return asked->quick ? REPEATS_QUICK : REPEATS;
}
