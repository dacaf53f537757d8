/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sums of the cross-multiplication. */
#include "engine/sums.h"

#include <string.h>

#include "base/memory.h"
#include "base/status.h"

static size_t n_band_rows(const wf_plan *plan)
{
    return plan->shape.n_bands * plan->n_rows;
}

/* Tiles of one input and row that so many segments take. */
static size_t n_tiles_of(const wf_plan *plan, size_t n_segments)
{
    return plan->by_channel ? (n_segments + WFI_TILE_SEGMENTS - 1) / WFI_TILE_SEGMENTS : n_segments;
}

size_t wfi_sums_input_stride(const wf_plan *plan)
{
    const size_t n = n_tiles_of(plan, plan->block_segments) * WFI_TILE_FLOATS;
    return plan->by_channel ? n : n + WFI_TILE_FLOATS / 2;
}

size_t wfi_sums_row_stride(const wf_plan *plan)
{
    const size_t n = plan->pairs.n_slots * wfi_sums_input_stride(plan);
    return plan->by_channel ? n + WFI_TILE_FLOATS : n;
}

static size_t floats_of_pairs(const wf_plan *plan)
{
    return plan->by_channel ? WFI_CHANNEL_PAIR_FLOATS : WFI_PAIR_FLOATS;
}

wf_status wfi_sums_create(wfi_sums *sums, const wf_plan *plan, wf_error *err)
{
    const size_t n = n_band_rows(plan);
    const size_t n_blocks = plan->pairs.n_blocks;
    WFI_TRY(
        wfi_allocate(&sums->tiles, n * wfi_sums_row_stride(plan), sizeof(float), "channels", err));
    WFI_TRY(wfi_allocate(&sums->blocks, n_blocks, sizeof *sums->blocks, "inputs", err));
    return wfi_allocate(&sums->sums, n * n_blocks * floats_of_pairs(plan), sizeof(float), "sums",
                        err);
}

void wfi_sums_destroy(wfi_sums *sums)
{
    wfi_free(sums->tiles);
    wfi_free(sums->blocks);
    wfi_free(sums->sums);
    *sums = (wfi_sums){0};
}

float *wfi_sums_tiles(const wfi_sums *sums, const wf_plan *plan, size_t i_band, size_t i_input,
                      size_t i_segment)
{
    const size_t i_tile = plan->by_channel ? i_segment / WFI_TILE_SEGMENTS : i_segment;
    return sums->tiles + i_band * plan->n_rows * wfi_sums_row_stride(plan) +
           plan->pairs.slot_of_input[i_input] * wfi_sums_input_stride(plan) +
           i_tile * WFI_TILE_FLOATS;
}

void wfi_sums_clear_input(wfi_sums *sums, const wf_plan *plan, size_t i_input)
{
    const size_t n = n_tiles_of(plan, plan->block_segments) * WFI_TILE_FLOATS;
    float *tiles = wfi_sums_tiles(sums, plan, 0, i_input, 0);
    for (size_t r = 0; r < n_band_rows(plan); r++)
        memset(tiles + r * wfi_sums_row_stride(plan), 0, n * sizeof(float));
}

void wfi_sums_begin(wfi_sums *sums, const wf_plan *plan, const bool *slot_active)
{
    sums->n_blocks = 0;
    for (size_t b = 0; b < plan->pairs.n_blocks; b++) {
        const wfi_pair_block *block = &plan->pairs.blocks[b];
        const bool *first = &slot_active[2 * block->first];
        const bool *second = &slot_active[2 * block->second];
        if ((first[0] || first[1]) && (second[0] || second[1]))
            sums->blocks[sums->n_blocks++] = *block;
    }
}

/* While a row's pairs are multiplied, the inputs of the next are fetched, spread evenly. */
static const float *fetched_with(const wfi_sums *sums, const wf_plan *plan, const float *next,
                                 size_t i_block)
{
    const size_t i_slot = i_block * plan->pairs.n_slots / sums->n_blocks;
    return next + i_slot * wfi_sums_input_stride(plan);
}

static void cross_row(const wfi_sums *sums, const wf_plan *plan, const float *row,
                      const float *next, size_t n_tiles, float *out)
{
    const size_t input_stride = wfi_sums_input_stride(plan);
    for (size_t b = 0; b < sums->n_blocks; b++, out += WFI_PAIR_FLOATS) {
        const wfi_pair_block *block = &sums->blocks[b];
        plan->kernels->cross(row + 2 * block->first * input_stride,
                             row + 2 * block->second * input_stride, input_stride, n_tiles,
                             fetched_with(sums, plan, next, b), out);
    }
}

void wfi_sums_cross(wfi_sums *sums, const wf_plan *plan, size_t n_segments)
{
    const size_t row_stride = wfi_sums_row_stride(plan);
    const size_t n_rows = n_band_rows(plan);
    const size_t n_tiles = n_tiles_of(plan, n_segments);
    for (size_t r = 0; r < n_rows; r++) {
        const float *row = sums->tiles + r * row_stride;
        const float *next = r + 1 < n_rows ? row + row_stride : row;
        float *out = sums->sums + r * sums->n_blocks * floats_of_pairs(plan);
        if (plan->by_channel)
            plan->kernels->batch->cross(row, wfi_sums_input_stride(plan), n_tiles, sums->blocks,
                                        sums->n_blocks, next, row_stride, out);
        else
            cross_row(sums, plan, row, next, n_tiles, out);
    }
}

/* The sums of 16 channels of a product: a channel's real part is `channel` floats after that of the
 * channel before, its imaginary part `imaginary` floats further on. */
typedef struct strides {
    size_t channel;
    size_t imaginary;
    size_t product;
    size_t block;
} strides;

static strides strides_of(const wfi_sums *sums, const wf_plan *plan)
{
    const size_t n = WFI_CHANNEL_PAIR_FLOATS;
    if (plan->by_channel)
        return (strides){sums->n_blocks * n, 1, 2, n};
    return (strides){1, WFI_TILE_CHANNELS, WFI_TILE_FLOATS, WFI_PAIR_FLOATS};
}

static void fold_product(const float *sum, const strides *at, size_t n, double complex *out)
{
    for (size_t k = 0; k < n; k++, sum += at->channel)
        out[k] += CMPLX((double)sum[0], (double)sum[at->imaginary]);
}

/* Up to 16 channels of a band, from `first` on; `sum` are those of their first row. */
static void fold_channels(const wfi_sums *sums, const wf_plan *plan, const float *sum,
                          size_t i_band, size_t first, wf_partial *partial)
{
    const wf_shape *shape = &plan->shape;
    const strides at = strides_of(sums, plan);
    const size_t left = shape->n_channels - first;
    const size_t n = left < WFI_TILE_CHANNELS ? left : WFI_TILE_CHANNELS;
    for (size_t b = 0; b < sums->n_blocks; b++) {
        for (size_t p = 0; p < WFI_PAIR_PRODUCTS; p++) {
            const int product = sums->blocks[b].product[p];
            const size_t i = ((size_t)product * shape->n_bands + i_band) * shape->n_channels;
            if (product >= 0)
                fold_product(sum + b * at.block + p * at.product, &at, n,
                             partial->cross + i + first);
        }
    }
}

void wfi_sums_fold(wfi_sums *sums, const wf_plan *plan, wf_partial *partial)
{
    const size_t row = sums->n_blocks * floats_of_pairs(plan);
    const size_t tile_rows = plan->by_channel ? WFI_TILE_CHANNELS : 1;
    for (size_t b = 0; b < plan->shape.n_bands; b++) {
        for (size_t r = 0; r < plan->n_rows; r += tile_rows)
            fold_channels(sums, plan, sums->sums + (b * plan->n_rows + r) * row, b,
                          r / tile_rows * WFI_TILE_CHANNELS, partial);
    }
    memset(sums->sums, 0, n_band_rows(plan) * row * sizeof(float));
}
