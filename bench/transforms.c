/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The limit: bare FFTW transforms. */
#include "transforms.h"

#include <fftw3.h>
#include <stdlib.h>

#include "stopwatch.h"

static const size_t CACHE_BYTES = (size_t)256 << 10;

struct bench_transforms {
    size_t n_fft;
    size_t n_batch;
    float *in;          /* [n_batch][n_fft] */
    fftwf_complex *out; /* [n_fft / 2 + 1] */
    fftwf_plan plan;
};

bench_transforms *bench_transforms_create(size_t n_channels)
{
    bench_transforms *made = calloc(1, sizeof *made);
    if (made == NULL)
        return NULL;
    made->n_fft = 2 * n_channels;
    const size_t fit = CACHE_BYTES / (made->n_fft * sizeof(float));
    made->n_batch = fit > 0 ? fit : 1;
    made->in = fftwf_alloc_real(made->n_batch * made->n_fft);
    made->out = fftwf_alloc_complex(made->n_fft / 2 + 1);
    if (made->in != NULL && made->out != NULL)
        made->plan = fftwf_plan_dft_r2c_1d((int)made->n_fft, made->in, made->out, FFTW_PATIENT);
    if (made->plan == NULL) {
        bench_transforms_destroy(made);
        return NULL;
    }
    for (size_t i = 0; i < made->n_batch * made->n_fft; i++)
        made->in[i] = (float)((i * 2654435761u >> 7) % 1000) - 500.0f;
    return made;
}

void bench_transforms_destroy(bench_transforms *transforms)
{
    if (transforms == NULL)
        return;
    if (transforms->plan != NULL)
        fftwf_destroy_plan(transforms->plan);
    fftwf_free(transforms->in);
    fftwf_free(transforms->out);
    free(transforms);
}

double bench_transforms_time_s(const bench_transforms *transforms, double n_samples)
{
    const size_t n = (size_t)(n_samples / (double)transforms->n_fft);
    const double begin = bench_now_s();
    for (size_t i = 0; i < n; i++)
        fftwf_execute_dft_r2c(transforms->plan,
                              transforms->in + i % transforms->n_batch * transforms->n_fft,
                              transforms->out);
    return bench_now_s() - begin;
}
