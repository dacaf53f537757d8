/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The loops of batches: from packed samples to tiles of a channel each, and their products. */
#ifndef WFI_ENGINE_BATCH_KERNELS_H
#define WFI_ENGINE_BATCH_KERNELS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "engine/batch.h"
#include "engine/pairs.h"

/** Streams that are put into channels at once: they share phasors. */
enum { WFI_BATCH_STREAMS = 2 };

/** Where the bins of a batch go.
 *
 *  bin_stride   floats from a bin's tile to the next's; negative where they run against the sky
 *  conjugate    them after all
 *  past_caches  written to memory at once; tiles on lines of 64 bytes
 */
typedef struct wfi_batch_destination {
    ptrdiff_t bin_stride;
    bool conjugate;
    bool past_caches;
} wfi_batch_destination;

typedef struct wfi_batch_kernels {
    /** Early stages of the transform of two-bit samples, taken by two and two as complex ones.
     *
     *  given     level   [4] of the codes: -outer, -inner, inner, outer
     *  returned  words   scratch
     *            work    [n_places][2][segments]
     *  returns           sum of the samples' squares
     */
    double (*transform)(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                        const float level[4], const wfi_batch_tables *tables, uint32_t *words,
                        float *work);

    /** The same of rotated samples, the even ones and the odd ones. */
    double (*transform_rotated)(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                                const float level[4], const wfi_batch_rotation *rotation,
                                uint32_t *words, float *even, float *odd);

    /** Phasor k of segment s = amplitude * exp(2 pi i (first_turns[s] + k step_turns[s])) for
     *  k < n, a multiple of 16. */
    void (*phases)(wfi_batch_phases *phases, const double *first_turns, const double *step_turns,
                   double amplitude, size_t n);

    /** The other stages, and all n bins of the real samples: see wfi_kernels.split. Bin k is put
     *  into phase by phasor k.
     *
     *  given     n_streams  1 or 2
     *  returned  works      [n_streams] overwritten
     *            tiles      [n_streams] of bin 0
     */
    void (*split)(const wfi_batch_plan *plan, const wfi_batch_destination *to,
                  const wfi_batch_phases *phases, size_t n_streams, float *const *works,
                  float *const *tiles);

    /** The other stages of rotated samples, and up to n bins from first_bin < 2 n on: bin k is
     *  bin k mod n of the even samples and exp(-pi i k / n) times that of the odd ones.
     *
     *  given     again      not the first run of bins of these works
     *  returned  even, odd  overwritten the first time
     *            tiles      of the first bin, which phasor 0 puts into phase
     */
    void (*join)(const wfi_batch_plan *plan, const wfi_batch_destination *to,
                 const wfi_batch_phases *phases, size_t first_bin, size_t n_bins, bool again,
                 float *even, float *odd, float *tiles);

    /** Tiles of 16 channels and one segment, 16 of them, become tiles of a channel each. */
    void (*turn)(float *tiles, size_t row_stride);

    /** Add the sums over segments of a_i conj(b_j) of one channel.
     *
     *  given     row       [slots] n_tiles tiles each, input_stride apart
     *            blocks    [n_blocks] which pairs of slots to multiply
     *            next      [n_next] floats that will be wanted soon: fetched meanwhile
     *  returned  sums      [n_blocks][4][2] (a0,b0) (a0,b1) (a1,b0) (a1,b1), added to
     */
    void (*cross)(const float *row, size_t input_stride, size_t n_tiles,
                  const wfi_pair_block *blocks, size_t n_blocks, const float *next, size_t n_next,
                  float *sums);
} wfi_batch_kernels;

#endif
