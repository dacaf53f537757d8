/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finds the frames of a VDIF recording by time, never by their position alone. */
#ifndef WFI_RECORDING_FRAME_SEARCH_H
#define WFI_RECORDING_FRAME_SEARCH_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_stream.h"

/* The search narrows a place down to this many frames and no further. */
enum { WFI_FRAME_SEARCH_SPAN = 64 };

/** The search of one reader. It remembers headers it has seen; what it finds depends on the files
 *  alone. */
typedef struct wfi_frame_search {
    const wfi_vdif_stream *stream;
    struct wfi_frame_memory *memory; /* [mask + 1] */
    size_t mask;
} wfi_frame_search;

wf_status wfi_frame_search_create(wfi_frame_search *out, const wfi_vdif_stream *stream,
                                  wf_error *err);
void wfi_frame_search_release(wfi_frame_search *search);

/** What the header at a position says. */
wf_status wfi_frame_search_peek(wfi_frame_search *search, size_t i_file, int64_t position,
                                wfi_frame *out, wf_error *err);

/** Remember a header that was read elsewhere. */
void wfi_frame_search_remember(wfi_frame_search *search, size_t i_file, int64_t position,
                               wfi_frame frame);

/** Where an instant stands in a file: frames before `begin` are before it, frames from `end` on
 *  are not. Where the frames around it are not valid, the two may be far apart, and begin > end. */
typedef struct wfi_frame_place {
    int64_t begin;
    int64_t end;
} wfi_frame_place;

/** Find the place of a sample, exact but for frames out of order (by no more than the reorder
 *  window). Within up to 16384 frames in a row that are not valid no 512 valid ones are
 *  overlooked; within more, shorter or longer runs may be. */
wf_status wfi_frame_search_find(wfi_frame_search *search, size_t i_file, int64_t sample,
                                wfi_frame_place *out, wf_error *err);

/** First sample of the first (direction +1) or last (-1) valid frames of a file; INT64_MIN where
 *  there are none. */
wf_status wfi_frame_search_sample(wfi_frame_search *search, size_t i_file, int direction,
                                  int64_t *sample, wf_error *err);

#endif
