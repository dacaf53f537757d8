/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine's kernels alone, on data that stay in cache. */
#include "kernel_cases.h"

#include <complex.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "engine/channelize.h"
#include "engine/cross.h"
#include "engine/unpack.h"

enum { SEGMENTS = 32, CHANNELS = WFI_TILE_CHANNELS, N_POLARIZATIONS = 2, N_PRODUCTS = 4 };
static const double FLOPS_MIN = 5e8;
static const double SAMPLES_MIN = 5e7;

const char *bench_kernels_name(const char *asked)
{
    return asked == NULL || strcmp(asked, "plain") == 0 ? "plain" : NULL;
}

struct bench_cross_case {
    size_t n_stations;
    size_t n_rounds;
    float *tile;         /* [n_inputs][SEGMENTS][2][CHANNELS] */
    double complex *out; /* [n_inputs][n_inputs][CHANNELS] */
};

static double flops_of_round(size_t n_stations)
{
    const double n_baselines = (double)(n_stations * (n_stations + 1) / 2);
    return 8.0 * n_baselines * N_PRODUCTS * CHANNELS * SEGMENTS;
}

bench_cross_case *bench_cross_case_create(size_t n_stations, const char *kernels)
{
    (void)kernels;
    const size_t n_inputs = n_stations * N_POLARIZATIONS;
    const size_t n_floats = n_inputs * SEGMENTS * 2 * CHANNELS;
    bench_cross_case *made = wfi_array_alloc(1, sizeof *made);
    if (made == NULL)
        return NULL;
    made->n_stations = n_stations;
    made->n_rounds = (size_t)(FLOPS_MIN / flops_of_round(n_stations)) + 1;
    made->tile = wfi_array_alloc(n_floats, sizeof(float));
    made->out = wfi_array_alloc(n_inputs * n_inputs * CHANNELS, sizeof *made->out);
    if (made->tile == NULL || made->out == NULL) {
        bench_cross_case_destroy(made);
        return NULL;
    }
    for (size_t i = 0; i < n_floats; i++)
        made->tile[i] = (float)(i * 2654435761u % 1000) - 500.0f;
    return made;
}

void bench_cross_case_destroy(bench_cross_case *made)
{
    if (made == NULL)
        return;
    wfi_free(made->tile);
    wfi_free(made->out);
    wfi_free(made);
}

static void cross_baseline(const bench_cross_case *made, size_t i, size_t j)
{
    const size_t stride = (size_t)SEGMENTS * 2 * CHANNELS;
    const size_t n_inputs = made->n_stations * N_POLARIZATIONS;
    for (size_t p = 0; p < N_PRODUCTS; p++) {
        const size_t a = i * N_POLARIZATIONS + p / 2;
        const size_t b = j * N_POLARIZATIONS + p % 2;
        wfi_cross_accumulate(made->tile + a * stride, made->tile + b * stride, SEGMENTS,
                             made->out + (a * n_inputs + b) * CHANNELS, CHANNELS);
    }
}

bool bench_cross_case_run(void *context)
{
    const bench_cross_case *made = context;
    for (size_t r = 0; r < made->n_rounds; r++) {
        for (size_t i = 0; i < made->n_stations; i++) {
            for (size_t j = i; j < made->n_stations; j++)
                cross_baseline(made, i, j);
        }
    }
    return true;
}

double bench_cross_case_flops(const bench_cross_case *made)
{
    return flops_of_round(made->n_stations) * (double)made->n_rounds;
}

struct bench_unpack_case {
    wfi_unpacker unpacker;
    wf_packed packed;
    size_t n_fft;
    size_t n_rounds;
    uint8_t *bytes;
    float *plane; /* [n_fft] */
};

bench_unpack_case *bench_unpack_case_create(size_t n_fft, const char *kernels)
{
    enum { SAMPLES_OF_A_BYTE = 4, BEYOND = 128 };
    (void)kernels;
    const wf_sample_format format = {WF_ENCODING_OFFSET_BINARY, 2, false, 1};
    const size_t n_bytes = n_fft / SAMPLES_OF_A_BYTE + BEYOND;
    bench_unpack_case *made = wfi_array_alloc(1, sizeof *made);
    if (made == NULL)
        return NULL;
    made->n_fft = n_fft;
    made->n_rounds = (size_t)(SAMPLES_MIN / (double)n_fft) + 1;
    made->bytes = wfi_array_alloc(n_bytes, 1);
    made->plane = wfi_array_alloc(n_fft, sizeof(float));
    if (made->bytes == NULL || made->plane == NULL ||
        wfi_unpacker_init(&made->unpacker, format, NULL) != WF_OK) {
        bench_unpack_case_destroy(made);
        return NULL;
    }
    for (size_t i = 0; i < n_bytes; i++)
        made->bytes[i] = (uint8_t)(i * 2654435761u >> 13);
    made->packed = (wf_packed){.bytes = made->bytes, .n = (int64_t)n_fft + SAMPLES_OF_A_BYTE};
    return made;
}

void bench_unpack_case_destroy(bench_unpack_case *made)
{
    if (made == NULL)
        return;
    wfi_free(made->bytes);
    wfi_free(made->plane);
    wfi_free(made);
}

/* The first sample stands anywhere in its byte, as delays have it. */
bool bench_unpack_case_run(void *context)
{
    static const uint32_t channel = 0;
    bench_unpack_case *made = context;
    float *planes[1] = {made->plane};
    for (size_t r = 0; r < made->n_rounds; r++)
        wfi_unpack(&made->unpacker, &made->packed, (int64_t)(r % 4), made->n_fft, &channel, 1,
                   planes);
    return true;
}

double bench_unpack_case_samples(const bench_unpack_case *made)
{
    return (double)made->n_fft * (double)made->n_rounds;
}
