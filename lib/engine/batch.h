/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Batches: 16 segments of a stream, transformed together, one in each lane of a vector.
 *
 *  A second route beside FFTW, which cannot work across transforms in vectors. It takes two-bit
 *  real samples, alone in their thread, in whole segments of a power of two, and leaves the rest to
 *  FFTW. No lane meets another before a block's products are added up.
 *
 *  2 n real samples are transformed by two and two as n complex ones; where they are rotated, the
 *  even ones and the odd ones each make n complex samples. The first two stages are run at once,
 *  from the packed samples; the others and what makes bins of their results at once too, part by
 *  part: the points pass through the second cache but once.
 */
#ifndef WFI_ENGINE_BATCH_H
#define WFI_ENGINE_BATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "engine/batch_rotation.h"
#include "engine/phases.h"

enum {
    WFI_BATCH_SEGMENTS = 16,
    WFI_BATCH_POINTS_MIN = 64,
    WFI_BATCH_POINTS_MAX = 8192, /* beyond, a batch leaves the caches */
    WFI_BATCH_STAGES_MAX = 5,
    WFI_BATCH_WORD_POINTS = 8, /* two samples each, of two bits */
};

/** One stage of the transform: `step` butterflies in each part. */
typedef struct wfi_batch_stage {
    size_t radix; /* 8 or 4 */
    size_t step;
    size_t stride;        /* between the points of a butterfly: step, or one more */
    const float *twiddle; /* [step][radix - 1][2] of results 1, 2, ... */
} wfi_batch_stage;

/** A transform of n complex points; immutable. */
typedef struct wfi_batch_plan {
    size_t n;
    wfi_batch_stage stages[WFI_BATCH_STAGES_MAX];
    size_t n_stages;
    size_t n_early;  /* stages that are run at once with the decoding: 2, or 1 of two */
    size_t n_parts;  /* that those leave, a transform of n / n_parts points each */
    size_t n_places; /* of the work space, n and what is left out */
    uint32_t *place; /* [n] where bin k stands after all stages */
    float *twiddles; /* of all stages */
    float *roots;    /* [2 n][2] exp(-pi i k / n) */
} wfi_batch_plan;

/** Can transforms of n complex points go this way? */
bool wfi_batch_serves(size_t n);

wf_status wfi_batch_plan_create(wfi_batch_plan *plan, size_t n, wf_error *err);
void wfi_batch_plan_destroy(wfi_batch_plan *plan);

/** Where the segments of a batch begin.
 *
 *  bytes    of the packed samples; 64 bytes beyond the last are readable
 *  byte     [lanes] that holds the first sample
 *  shift    [lanes] bit of it
 *  to_next  bytes to where the next batch lies, about; it is fetched, if it is there
 */
typedef struct wfi_batch_samples {
    const uint8_t *bytes;
    uint32_t byte[WFI_BATCH_SEGMENTS];
    uint32_t shift[WFI_BATCH_SEGMENTS];
    size_t to_next;
} wfi_batch_samples;

/** Phasors of the segments of a batch: k of lane s is block[k / 16][s] * step[k % 16][s]. */
typedef struct wfi_batch_phases {
    float step_re[WFI_PHASE_BLOCK * WFI_BATCH_SEGMENTS];
    float step_im[WFI_PHASE_BLOCK * WFI_BATCH_SEGMENTS];
    float *block_re; /* [n / 16][lanes] */
    float *block_im;
} wfi_batch_phases;

/** What batches of one thread need beside their plans. */
typedef struct wfi_batch_scratch {
    wfi_batch_tables tables;
    wfi_batch_rotation rotation;
    double turns[WFI_BATCH_SEGMENTS]; /* of each segment, beside its rotation */
    wfi_batch_phases phases;          /* of the channels */
    const void *phases_of;            /* the piece that they are of */
    uint32_t *words;                  /* [n / 8, 16 at least][lanes] samples */
    float *works[2]; /* [n_places][2][lanes] of two streams, or of one's even and odd samples */
} wfi_batch_scratch;

/** given  longest  the plan that has most points */
wf_status wfi_batch_scratch_create(wfi_batch_scratch *scratch, const wfi_batch_plan *longest,
                                   wf_error *err);
void wfi_batch_scratch_destroy(wfi_batch_scratch *scratch);

#endif
