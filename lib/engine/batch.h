/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Batches: as many segments of a stream as a vector has lanes, transformed together, one in each
 * lane.
 *
 *  A second route beside FFTW, which cannot work across transforms in vectors. It takes two-bit
 *  real samples, alone in their thread, in whole segments of a power of two, and leaves the rest to
 *  FFTW. No lane meets another before the channels are laid out, so that not one vector has to be
 *  shuffled.
 */
#ifndef WFI_ENGINE_BATCH_H
#define WFI_ENGINE_BATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "engine/phases.h"

enum {
    WFI_BATCH_LANES_MAX = 16,
    WFI_BATCH_POINTS_MIN = 64,
    WFI_BATCH_POINTS_MAX = 8192, /* beyond, a batch leaves the caches */
    WFI_BATCH_STAGES_MAX = 5,
};

/** One stage of the transform: butterflies of `radix` points, `step` apart. */
typedef struct wfi_batch_stage {
    size_t radix; /* 8 or 4 */
    size_t step;
    const float *twiddle; /* [step][radix - 1][2] */
} wfi_batch_stage;

/** A transform of n complex points: n rotated samples, or 2 n samples by two and two; immutable. */
typedef struct wfi_batch_plan {
    size_t n;
    wfi_batch_stage stages[WFI_BATCH_STAGES_MAX];
    size_t n_stages;
    uint32_t *place; /* [n + 1] where bin k mod n stands after the stages */
    float *twiddles; /* of all stages */
} wfi_batch_plan;

/** Can transforms of n complex points go this way? With rotation n is 128 at least. */
bool wfi_batch_serves(size_t n, bool rotated);

wf_status wfi_batch_plan_create(wfi_batch_plan *plan, size_t n, wf_error *err);
void wfi_batch_plan_destroy(wfi_batch_plan *plan);

/** Where the segments of a batch begin.
 *
 *  bytes  of the packed samples; 64 bytes beyond the last are readable
 *  byte   [lanes] that holds the first sample
 *  shift  [lanes] bit of it
 */
typedef struct wfi_batch_samples {
    const uint8_t *bytes;
    uint32_t byte[WFI_BATCH_LANES_MAX];
    uint32_t shift[WFI_BATCH_LANES_MAX];
} wfi_batch_samples;

/** Phasors of the segments of a batch: k of lane s is block[k / 16][s] * step[k % 16][s]. */
typedef struct wfi_batch_phases {
    float step_re[WFI_PHASE_BLOCK * WFI_BATCH_LANES_MAX];
    float step_im[WFI_PHASE_BLOCK * WFI_BATCH_LANES_MAX];
    float *block_re; /* [n / 16][lanes] */
    float *block_im;
} wfi_batch_phases;

/** What a batch of one thread needs beside its plan. */
typedef struct wfi_batch_scratch {
    wfi_batch_phases rotation; /* of the samples */
    wfi_batch_phases phases;   /* of the channels */
    float **works;             /* [n_streams] each [n][2][lanes] */
    size_t n_streams;
} wfi_batch_scratch;

/** Room for batches of n points and n_streams streams; n = 0: none. */
wf_status wfi_batch_scratch_create(wfi_batch_scratch *scratch, size_t n, size_t n_streams,
                                   wf_error *err);
void wfi_batch_scratch_destroy(wfi_batch_scratch *scratch);

#endif
