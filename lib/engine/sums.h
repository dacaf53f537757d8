/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sums of the cross-multiplication: in float over the blocks of a group, tile by tile as the
 * kernel leaves them, then in double, in the order of wf_partial. */
#ifndef WFI_ENGINE_SUMS_H
#define WFI_ENGINE_SUMS_H

#include <stdbool.h>

#include "engine/plan.h"

/** Tiles of one thread and the sums over them. */
typedef struct wfi_sums {
    float *tiles; /* [n_bands][n_tiles][n_slots] of block_segments tiles each, padded */
    float *sums;  /* [n_bands][n_tiles][n_blocks of pairs][4] tiles */
} wfi_sums;

wf_status wfi_sums_create(wfi_sums *sums, const wf_plan *plan, wf_error *err);
void wfi_sums_destroy(wfi_sums *sums);

/** Floats between the tiles of two inputs, and between those of two tiles of channels. Padded: the
 *  same place of many inputs must not fall on the same lines of a cache. */
static inline size_t wfi_sums_input_stride(const wf_plan *plan)
{
    return plan->block_segments * WFI_TILE_FLOATS + WFI_TILE_CHANNELS;
}

static inline size_t wfi_sums_tile_stride(const wf_plan *plan)
{
    return plan->pairs.n_slots * wfi_sums_input_stride(plan);
}

/** Tiles of one band, input and segment of the block; those of its channels follow at
 *  wfi_sums_tile_stride. */
float *wfi_sums_tiles(const wfi_sums *sums, const wf_plan *plan, size_t i_band, size_t i_input,
                      size_t i_segment);

/** Zero what an input left behind. */
void wfi_sums_clear_input(wfi_sums *sums, const wf_plan *plan, size_t i_input);

/** Cross-multiply a block.
 *
 *  given  slot_active  [n_slots]; pairs without an active slot are left out
 */
void wfi_sums_cross(wfi_sums *sums, const wf_plan *plan, const bool *slot_active,
                    size_t n_segments);

/** Move the sums to a partial and begin again at zero. */
void wfi_sums_fold(wfi_sums *sums, const wf_plan *plan, wf_partial *partial);

#endif
