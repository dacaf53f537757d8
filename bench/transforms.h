/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The limit: bare FFTW transforms of as many samples, data in cache. */
#ifndef BENCH_TRANSFORMS_H
#define BENCH_TRANSFORMS_H

#include <stddef.h>

typedef struct bench_transforms bench_transforms;

/** Real transforms of 2 n_channels samples, FFTW_PATIENT, in batches that stay in L2. */
bench_transforms *bench_transforms_create(size_t n_channels);
void bench_transforms_destroy(bench_transforms *transforms);

/** Seconds for the transforms of n_samples samples. */
double bench_transforms_time_s(const bench_transforms *transforms, double n_samples);

#endif
