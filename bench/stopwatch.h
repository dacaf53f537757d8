/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seconds, medians. */
#ifndef BENCH_STOPWATCH_H
#define BENCH_STOPWATCH_H

#include <stdlib.h>
#include <time.h>

static inline double bench_now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static inline int bench_ascending(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

/** The values are sorted. */
static inline double bench_median(double *values, size_t n)
{
    qsort(values, n, sizeof *values, bench_ascending);
    return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

#endif
