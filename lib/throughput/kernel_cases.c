/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine's kernels alone, on data that stay in cache. */
#include "throughput/kernel_cases.h"

#include <complex.h>
#include <stdint.h>

#include "base/memory.h"
#include "base/status.h"
#include "engine/channelize.h"
#include "engine/cross.h"
#include "engine/unpack.h"

enum { SEGMENTS = 32, CHANNELS = WFI_TILE_CHANNELS, BYTE_BITS = 8, READABLE_BEYOND = 128 };
static const char what[] = "a kernel's data";

/* Enough of each to fill some milliseconds. */
static const double SAMPLES_OF_A_RUN = 1e7;
static const double CHANNELS_OF_A_RUN = 2e6;
static const double FLOPS_OF_A_RUN = 1e8;

struct wfi_kernel_case {
    wfi_kernel_kind kind;
    wfi_scene_setup setup;
    size_t n_fft;
    size_t n_rounds;
    double amount_of_a_round;
    wfi_unpacker unpacker;
    wf_packed packed;
    uint8_t *bytes;
    float *samples; /* [2 * n_fft] */
    wfi_grid_stream stream;
    wfi_spectrum spectrum;
    float *tiles; /* of one stream and segment; or [n_inputs][SEGMENTS] of one tile */
    double complex *sums;
};

static size_t n_inputs(const wfi_scene_setup *setup)
{
    return setup->n_stations * setup->n_polarizations;
}

static void fill(float *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        x[i] = (float)(i * 2654435761u % 1000) - 500.0f;
}

static wf_status prepare_unpack(wfi_kernel_case *made, wf_error *err)
{
    const wfi_scene_setup *setup = &made->setup;
    const wf_sample_format format = {WF_ENCODING_OFFSET_BINARY, setup->bits, setup->is_complex, 1};
    const size_t bits = (size_t)setup->bits * (setup->is_complex ? 2 : 1);
    const size_t n_bytes = made->n_fft * bits / BYTE_BITS + READABLE_BEYOND;
    WFI_TRY(wfi_unpacker_init(&made->unpacker, format, err));
    WFI_TRY(wfi_allocate(&made->bytes, n_bytes, 1, what, err));
    WFI_TRY(wfi_allocate(&made->samples, 2 * made->n_fft, sizeof(float), what, err));
    for (size_t i = 0; i < n_bytes; i++)
        made->bytes[i] = (uint8_t)(i * 2654435761u >> 13);
    made->packed = (wf_packed){.bytes = made->bytes, .n = (int64_t)made->n_fft + BYTE_BITS};
    made->amount_of_a_round = (double)made->n_fft;
    return WF_OK;
}

/* The first sample stands anywhere in its byte, as delays have it. */
static void run_unpack(wfi_kernel_case *made, size_t round)
{
    static const uint32_t channel = 0;
    float *planes[1] = {made->samples};
    wfi_unpack(&made->unpacker, &made->packed, (int64_t)(round % BYTE_BITS), made->n_fft, &channel,
               1, planes);
}

static wf_status prepare_phase(wfi_kernel_case *made, wf_error *err)
{
    const size_t n_tiles = (made->setup.n_channels + CHANNELS - 1) / CHANNELS;
    made->stream = (wfi_grid_stream){.n_fft = made->n_fft, .sideband = 1};
    WFI_TRY(wfi_allocate(&made->spectrum.bins, made->n_fft + 1, sizeof(fftwf_complex), what, err));
    WFI_TRY(wfi_allocate(&made->tiles, n_tiles * 2 * CHANNELS, sizeof(float), what, err));
    fill((float *)made->spectrum.bins, 2 * made->n_fft);
    made->amount_of_a_round = (double)made->setup.n_channels;
    return WF_OK;
}

static void run_phase(wfi_kernel_case *made, size_t round)
{
    const wfi_grid_piece piece = {.n_channels = made->setup.n_channels};
    wfi_place_channels(&made->stream, &piece, false, &made->spectrum, 0.01 * (double)(round % 100),
                       1e-4, made->tiles, 2 * CHANNELS);
}

static wf_status prepare_cross(wfi_kernel_case *made, wf_error *err)
{
    const wfi_scene_setup *setup = &made->setup;
    const size_t n = n_inputs(setup);
    const size_t n_baselines = setup->n_stations * (setup->n_stations + 1) / 2;
    WFI_TRY(wfi_allocate(&made->tiles, n * SEGMENTS * 2 * CHANNELS, sizeof(float), what, err));
    WFI_TRY(wfi_allocate(&made->sums, n * n * CHANNELS, sizeof *made->sums, what, err));
    fill(made->tiles, n * SEGMENTS * 2 * CHANNELS);
    made->amount_of_a_round = 8.0 * (double)(n_baselines * setup->n_products * CHANNELS * SEGMENTS);
    return WF_OK;
}

static void cross_baseline(const wfi_kernel_case *made, size_t i, size_t j)
{
    const size_t stride = (size_t)SEGMENTS * 2 * CHANNELS;
    const size_t n_polarizations = made->setup.n_polarizations;
    for (size_t p = 0; p < made->setup.n_products; p++) {
        const size_t a = i * n_polarizations + p % n_polarizations;
        const size_t b = j * n_polarizations + (p + p / 2) % n_polarizations;
        wfi_cross_accumulate(made->tiles + a * stride, made->tiles + b * stride, SEGMENTS,
                             made->sums + (a * n_inputs(&made->setup) + b) * CHANNELS, CHANNELS);
    }
}

static void run_cross(wfi_kernel_case *made, size_t round)
{
    (void)round;
    for (size_t i = 0; i < made->setup.n_stations; i++) {
        for (size_t j = i; j < made->setup.n_stations; j++)
            cross_baseline(made, i, j);
    }
}

typedef struct kernel {
    wf_status (*prepare)(wfi_kernel_case *, wf_error *);
    void (*run)(wfi_kernel_case *, size_t round);
    const double *amount_of_a_run;
} kernel;

static const kernel kernels[] = {
    [WFI_KERNEL_UNPACK] = {prepare_unpack, run_unpack, &SAMPLES_OF_A_RUN},
    [WFI_KERNEL_PHASE] = {prepare_phase, run_phase, &CHANNELS_OF_A_RUN},
    [WFI_KERNEL_CROSS] = {prepare_cross, run_cross, &FLOPS_OF_A_RUN},
};

wf_status wfi_kernel_case_create(wfi_kernel_case **out, wfi_kernel_kind kind,
                                 const wfi_scene_setup *setup, wf_error *err)
{
    *out = NULL;
    wfi_kernel_case *made = NULL;
    WFI_TRY(wfi_allocate(&made, 1, sizeof *made, what, err));
    made->kind = kind;
    made->setup = *setup;
    made->n_fft = wfi_scene_n_fft(setup);
    const wf_status status = kernels[kind].prepare(made, err);
    if (status != WF_OK) {
        wfi_kernel_case_destroy(made);
        return status;
    }
    made->n_rounds = (size_t)(*kernels[kind].amount_of_a_run / made->amount_of_a_round) + 1;
    *out = made;
    return WF_OK;
}

void wfi_kernel_case_destroy(wfi_kernel_case *made)
{
    if (made == NULL)
        return;
    wfi_spectrum_destroy(&made->spectrum);
    wfi_free(made->bytes);
    wfi_free(made->samples);
    wfi_free(made->tiles);
    wfi_free(made->sums);
    wfi_free(made);
}

void wfi_kernel_case_run(wfi_kernel_case *made)
{
    for (size_t i = 0; i < made->n_rounds; i++)
        kernels[made->kind].run(made, i);
}

double wfi_kernel_case_amount(const wfi_kernel_case *made)
{
    return made->amount_of_a_round * (double)made->n_rounds;
}
