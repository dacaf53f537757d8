/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine's kernels alone, on data that stay in cache. */
#include "throughput/kernel_cases.h"

#include "base/memory.h"
#include "base/status.h"
#include "engine/channelize_batch.h"
#include "throughput/channelizer_cases.h"
#include "throughput/kernel_case_state.h"
#include "throughput/limits.h"

enum { SEGMENTS = 32, CHANNELS = WFI_TILE_CHANNELS, BYTE_BITS = 8, READABLE_BEYOND = 128 };
static const char what[] = WFI_KERNEL_CASE_WHAT;

/* Enough of each to fill a millisecond or more. */
static const double SAMPLES_OF_A_RUN = 4e6;
static const double CHANNELS_OF_A_RUN = 1e6;
static const double FLOPS_OF_A_RUN = 1e8;

void wfi_kernel_case_fill(float *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        x[i] = (float)(i * 2654435761u % 1000) - 500.0f;
}

void wfi_kernel_case_fill_packed(uint8_t *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++)
        bytes[i] = (uint8_t)(i * 2654435761u >> 13);
}

static size_t n_inputs(const wfi_scene_setup *setup)
{
    return setup->n_stations * setup->n_polarizations;
}

static wf_status prepare_unpack(wfi_kernel_case *made, wf_error *err)
{
    const wfi_scene_setup *setup = &made->setup;
    const size_t bits = (size_t)setup->bits * (setup->is_complex ? 2 : 1);
    const size_t n_bytes = made->n_fft * bits / BYTE_BITS + READABLE_BEYOND;
    WFI_TRY(wfi_unpacker_init(&made->unpacker, made->format, err));
    WFI_TRY(wfi_allocate(&made->bytes, n_bytes, 1, what, err));
    WFI_TRY(wfi_allocate(&made->samples, 2 * made->n_fft, sizeof(float), what, err));
    wfi_kernel_case_fill_packed(made->bytes, n_bytes);
    made->amount_of_a_round = (double)made->n_fft;
    return WF_OK;
}

/* The first sample stands anywhere in its byte, as delays have it. */
static void run_unpack(wfi_kernel_case *made, size_t round)
{
    const size_t group = made->setup.is_complex ? 2 : 1;
    (void)made->kernels->unpack(&made->unpacker, made->bytes, round % BYTE_BITS, 0,
                                group * made->n_fft, made->samples);
}

/* Pairs of inputs: the kernel takes two by two. */
static size_t n_pairs(const wfi_scene_setup *setup)
{
    return (n_inputs(setup) + 1) / 2;
}

static size_t count_blocks(const wfi_scene_setup *setup)
{
    return n_pairs(setup) * (n_pairs(setup) + 1) / 2;
}

static const wfi_batch_kernels *batches_of(const wfi_kernel_case *made)
{
    return wfi_batch_decodes(made->format) ? made->kernels->batch : NULL;
}

/* As many segments as the first cache has room for. */
static size_t n_crossed(const wfi_kernel_case *made)
{
    return batches_of(made) != NULL ? 4 * SEGMENTS : SEGMENTS;
}

/* Of a pair with itself batches take half the operations. */
static double flops_of_crossing(const wfi_kernel_case *made)
{
    const size_t n_own = batches_of(made) != NULL ? n_pairs(&made->setup) : 0;
    const double n_blocks = (double)count_blocks(&made->setup) - 0.5 * (double)n_own;
    return n_blocks * WFI_FLOPS_OF_A_PRODUCT * WFI_PAIR_PRODUCTS * CHANNELS *
           (double)n_crossed(made);
}

static wf_status prepare_cross(wfi_kernel_case *made, wf_error *err)
{
    const size_t n = n_pairs(&made->setup);
    const size_t n_blocks = count_blocks(&made->setup);
    const size_t n_floats = 2 * n * n_crossed(made) * WFI_TILE_FLOATS;
    WFI_TRY(wfi_allocate(&made->tiles, n_floats, sizeof(float), what, err));
    WFI_TRY(wfi_allocate(&made->sums, n_blocks * WFI_PAIR_FLOATS, sizeof(float), what, err));
    WFI_TRY(wfi_allocate(&made->blocks, n_blocks, sizeof *made->blocks, what, err));
    wfi_kernel_case_fill(made->tiles, n_floats);
    wfi_pair_block *block = made->blocks;
    for (size_t i = 0; i < n; i++) {
        for (size_t j = i; j < n; j++)
            *block++ = (wfi_pair_block){.first = i, .second = j};
    }
    made->amount_of_a_round = flops_of_crossing(made);
    return WF_OK;
}

static void cross_a_tile(wfi_kernel_case *made)
{
    const size_t stride = n_crossed(made) * WFI_TILE_FLOATS;
    float *sums = made->sums;
    for (size_t b = 0; b < count_blocks(&made->setup); b++, sums += WFI_PAIR_FLOATS)
        made->kernels->cross(made->tiles + 2 * made->blocks[b].first * stride,
                             made->tiles + 2 * made->blocks[b].second * stride, stride,
                             n_crossed(made), made->tiles, sums);
}

static void cross_channel_by_channel(wfi_kernel_case *made)
{
    const size_t n_tiles = n_crossed(made) / WFI_TILE_SEGMENTS;
    for (size_t c = 0; c < CHANNELS; c++)
        made->kernels->batch->cross(made->tiles, n_tiles * WFI_TILE_FLOATS, n_tiles, made->blocks,
                                    count_blocks(&made->setup), made->tiles, 0, made->sums);
}

static void run_cross(wfi_kernel_case *made, size_t round)
{
    (void)round;
    if (batches_of(made) != NULL)
        cross_channel_by_channel(made);
    else
        cross_a_tile(made);
}

typedef struct kernel {
    wf_status (*prepare)(wfi_kernel_case *, wf_error *);
    void (*run)(wfi_kernel_case *, size_t round);
    const double *amount_of_a_run;
} kernel;

static const kernel subjects[] = {
    [WFI_KERNEL_UNPACK] = {prepare_unpack, run_unpack, &SAMPLES_OF_A_RUN},
    [WFI_KERNEL_TRANSFORM] = {wfi_transform_case_prepare, wfi_transform_case_run,
                              &SAMPLES_OF_A_RUN},
    [WFI_KERNEL_PHASE] = {wfi_phase_case_prepare, wfi_phase_case_run, &CHANNELS_OF_A_RUN},
    [WFI_KERNEL_EARLY] = {wfi_early_case_prepare, wfi_early_case_run, &SAMPLES_OF_A_RUN},
    [WFI_KERNEL_LATE] = {wfi_late_case_prepare, wfi_late_case_run, &CHANNELS_OF_A_RUN},
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
    made->format = (wf_sample_format){WF_ENCODING_OFFSET_BINARY, setup->bits, setup->is_complex, 1};
    made->n_fft = wfi_scene_n_fft(setup);
    wf_status status = wfi_kernels_choose(&made->kernels, setup->kernels, err);
    if (status == WF_OK)
        status = subjects[kind].prepare(made, err);
    if (status != WF_OK) {
        wfi_kernel_case_destroy(made);
        return status;
    }
    made->n_rounds = (size_t)(*subjects[kind].amount_of_a_run / made->amount_of_a_round) + 1;
    *out = made;
    return WF_OK;
}

void wfi_kernel_case_destroy(wfi_kernel_case *made)
{
    if (made == NULL)
        return;
    wfi_spectra_destroy(&made->spectra);
    wfi_transforms_destroy(&made->transforms);
    wfi_free(made->bytes);
    wfi_free(made->samples);
    wfi_free(made->tiles);
    wfi_free(made->sums);
    wfi_free(made->blocks);
    wfi_free(made);
}

void wfi_kernel_case_run(wfi_kernel_case *made)
{
    for (size_t i = 0; i < made->n_rounds; i++)
        subjects[made->kind].run(made, i);
}

double wfi_kernel_case_amount(const wfi_kernel_case *made)
{
    return made->amount_of_a_round * (double)made->n_rounds;
}
