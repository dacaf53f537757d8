/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine's kernels alone, on data that stay in cache. */
#ifndef BENCH_KERNEL_CASES_H
#define BENCH_KERNEL_CASES_H

#include <stdbool.h>
#include <stddef.h>

/** Name of the kernels that the engine takes when asked for these (NULL: those it chooses itself);
 *  NULL where there are none of that name. */
const char *bench_kernels_name(const char *asked);

/** Cross-multiplication of one tile of n_stations of two polarizations, all products. */
typedef struct bench_cross_case bench_cross_case;
bench_cross_case *bench_cross_case_create(size_t n_stations, const char *kernels);
void bench_cross_case_destroy(bench_cross_case *made);
bool bench_cross_case_run(void *made);
double bench_cross_case_flops(const bench_cross_case *made);

/** Two-bit samples of a segment of n_fft to floats. */
typedef struct bench_unpack_case bench_unpack_case;
bench_unpack_case *bench_unpack_case_create(size_t n_fft, const char *kernels);
void bench_unpack_case_destroy(bench_unpack_case *made);
bool bench_unpack_case_run(void *made);
double bench_unpack_case_samples(const bench_unpack_case *made);

#endif
