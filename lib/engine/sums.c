/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sums of the cross-multiplication. */
#include "engine/sums.h"

#include <string.h>

#include "base/memory.h"
#include "base/status.h"

static size_t n_band_tiles(const wf_plan *plan)
{
    return plan->shape.n_bands * plan->n_tiles;
}

wf_status wfi_sums_create(wfi_sums *sums, const wf_plan *plan, wf_error *err)
{
    const size_t n = n_band_tiles(plan);
    WFI_TRY(
        wfi_allocate(&sums->tiles, n * wfi_sums_tile_stride(plan), sizeof(float), "channels", err));
    return wfi_allocate(&sums->sums, n * plan->pairs.n_blocks * WFI_PAIR_FLOATS, sizeof(float),
                        "sums", err);
}

void wfi_sums_destroy(wfi_sums *sums)
{
    wfi_free(sums->tiles);
    wfi_free(sums->sums);
    *sums = (wfi_sums){0};
}

float *wfi_sums_tiles(const wfi_sums *sums, const wf_plan *plan, size_t i_band, size_t i_input,
                      size_t i_segment)
{
    return sums->tiles + i_band * plan->n_tiles * wfi_sums_tile_stride(plan) +
           plan->pairs.slot_of_input[i_input] * wfi_sums_input_stride(plan) +
           i_segment * WFI_TILE_FLOATS;
}

void wfi_sums_clear_input(wfi_sums *sums, const wf_plan *plan, size_t i_input)
{
    for (size_t t = 0; t < n_band_tiles(plan); t++)
        memset(wfi_sums_tiles(sums, plan, 0, i_input, 0) + t * wfi_sums_tile_stride(plan), 0,
               plan->block_segments * WFI_TILE_FLOATS * sizeof(float));
}

static bool pair_is_active(const bool *slot_active, size_t pair)
{
    return slot_active[2 * pair] || slot_active[2 * pair + 1];
}

/* While a tile's pairs are multiplied, the inputs of the next tile are fetched, spread evenly. */
static const float *fetched_with(const wf_plan *plan, const float *next, size_t i_block)
{
    const size_t i_slot = i_block * plan->pairs.n_slots / plan->pairs.n_blocks;
    return next + i_slot * wfi_sums_input_stride(plan);
}

void wfi_sums_cross(wfi_sums *sums, const wf_plan *plan, const bool *slot_active, size_t n_segments)
{
    const size_t input_stride = wfi_sums_input_stride(plan);
    for (size_t t = 0; t < n_band_tiles(plan); t++) {
        const float *tiles = sums->tiles + t * wfi_sums_tile_stride(plan);
        const float *next = t + 1 < n_band_tiles(plan) ? tiles + wfi_sums_tile_stride(plan) : tiles;
        float *out = sums->sums + t * plan->pairs.n_blocks * WFI_PAIR_FLOATS;
        for (size_t b = 0; b < plan->pairs.n_blocks; b++, out += WFI_PAIR_FLOATS) {
            const wfi_pair_block *block = &plan->pairs.blocks[b];
            if (pair_is_active(slot_active, block->first) &&
                pair_is_active(slot_active, block->second))
                plan->kernels->cross(tiles + 2 * block->first * input_stride,
                                     tiles + 2 * block->second * input_stride, input_stride,
                                     n_segments, fetched_with(plan, next, b), out);
        }
    }
}

/* Channels of one product of one tile. */
static void fold_product(const wf_plan *plan, const float *sum, size_t i_band, size_t i_tile,
                         size_t product, wf_partial *partial)
{
    const wf_shape *shape = &plan->shape;
    const size_t first = i_tile * WFI_TILE_CHANNELS;
    const size_t left = shape->n_channels - first;
    const size_t n = left < WFI_TILE_CHANNELS ? left : WFI_TILE_CHANNELS;
    double complex *out =
        partial->cross + (product * shape->n_bands + i_band) * shape->n_channels + first;
    for (size_t k = 0; k < n; k++)
        out[k] += CMPLX((double)sum[k], (double)sum[WFI_TILE_CHANNELS + k]);
}

void wfi_sums_fold(wfi_sums *sums, const wf_plan *plan, wf_partial *partial)
{
    float *sum = sums->sums;
    for (size_t t = 0; t < n_band_tiles(plan); t++) {
        for (size_t b = 0; b < plan->pairs.n_blocks; b++) {
            const wfi_pair_block *block = &plan->pairs.blocks[b];
            for (size_t p = 0; p < WFI_PAIR_PRODUCTS; p++, sum += WFI_TILE_FLOATS) {
                if (block->product[p] >= 0)
                    fold_product(plan, sum, t / plan->n_tiles, t % plan->n_tiles,
                                 (size_t)block->product[p], partial);
            }
        }
    }
    memset(sums->sums, 0,
           n_band_tiles(plan) * plan->pairs.n_blocks * WFI_PAIR_FLOATS * sizeof(float));
}
