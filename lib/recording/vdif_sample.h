/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands in a file, from a sample of its headers. */
#ifndef WFI_RECORDING_VDIF_SAMPLE_H
#define WFI_RECORDING_VDIF_SAMPLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_stream.h"

/** A stretch of a file of which only the ends were looked at. */
typedef struct wfi_interval {
    int64_t begin; /* bytes */
    int64_t end;
    struct wfi_refined *refined; /* NULL until every header in it had to be looked at */
} wfi_interval;

typedef struct wfi_interval_list {
    wfi_interval *intervals; /* ascending, disjoint */
    size_t n;
    size_t capacity;
} wfi_interval_list;

/** Look at headers all over a file: where two looks fit each other by bytes and times, as many
 *  frames stand between them as there should, and that is taken on trust until a reader finds
 *  otherwise; where they do not, the place is narrowed down and every header there looked at.
 *
 *  given  exact  look at every header
 */
wf_status wfi_vdif_sample(const wfi_vdif_stream *stream, size_t i_file, bool exact,
                          wfi_findings *findings, wfi_interval_list *intervals, wf_error *err);

#endif
