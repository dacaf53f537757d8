/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sums of the cross-multiplication: in float over the blocks of a group, row by row as the
 * kernel leaves them, then in double, in the order of wf_partial. */
#ifndef WFI_ENGINE_SUMS_H
#define WFI_ENGINE_SUMS_H

#include <stdbool.h>

#include "engine/plan.h"

/** Tiles of one thread and the sums over them. */
typedef struct wfi_sums {
    float *tiles;           /* [n_bands][n_rows][n_slots] of a block's tiles each, padded */
    wfi_pair_block *blocks; /* [n_blocks] of pairs, those that are active */
    size_t n_blocks;
    float *sums; /* [n_bands][n_rows][n_blocks] as the kernel has them */
} wfi_sums;

wf_status wfi_sums_create(wfi_sums *sums, const wf_plan *plan, wf_error *err);
void wfi_sums_destroy(wfi_sums *sums);

/** Floats between the tiles of two inputs, and between rows. Padded: the same place of many inputs
 *  or rows must not fall on the same lines of a cache. */
size_t wfi_sums_input_stride(const wf_plan *plan);
size_t wfi_sums_row_stride(const wf_plan *plan);

/** First row's tiles of a band, an input and segments from number i_segment of the block on. */
float *wfi_sums_tiles(const wfi_sums *sums, const wf_plan *plan, size_t i_band, size_t i_input,
                      size_t i_segment);

/** Zero what an input left behind. */
void wfi_sums_clear_input(wfi_sums *sums, const wf_plan *plan, size_t i_input);

/** Begin a slice: pairs without an active slot are left out.
 *
 *  given  slot_active  [n_slots]
 */
void wfi_sums_begin(wfi_sums *sums, const wf_plan *plan, const bool *slot_active);

/** Cross-multiply a block; where tiles are by channel, the lanes of missing segments hold zero. */
void wfi_sums_cross(wfi_sums *sums, const wf_plan *plan, size_t n_segments);

/** Move the sums to a partial and begin again at zero. */
void wfi_sums_fold(wfi_sums *sums, const wf_plan *plan, wf_partial *partial);

#endif
