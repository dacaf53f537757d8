/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which part of each segment of a block is valid, and what two threads have in common of it. */
#ifndef WFI_ENGINE_VALIDITY_H
#define WFI_ENGINE_VALIDITY_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/recording.h>

/** A stretch of a segment that is not valid, in fractions of the segment. */
typedef struct wfi_gap {
    double begin;
    double end;
} wfi_gap;

/** Validity of one thread's segments of a block; buffers grow as needed. */
typedef struct wfi_validity {
    bool whole; /* every segment of the block is wholly valid */
    size_t n_segments;
    double *fraction;  /* [capacity] valid part of each segment */
    size_t *first_gap; /* [capacity + 1] of each segment, into gaps */
    wfi_gap *gaps;
    size_t gaps_capacity;
} wfi_validity;

wf_status wfi_validity_create(wfi_validity *validity, size_t n_segments, wf_error *err);
void wfi_validity_destroy(wfi_validity *validity);

/** Begin a block. */
void wfi_validity_reset(wfi_validity *validity);

/** Append the segment of samples [first, first + n). */
wf_status wfi_validity_append(wfi_validity *validity, const wf_packed *packed, int64_t first,
                              size_t n, wf_error *err);

/** Sum over the block's segments of the fraction that is valid in both. */
double wfi_validity_common(const wfi_validity *a, const wfi_validity *b);

#endif
