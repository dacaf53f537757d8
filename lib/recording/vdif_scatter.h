/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the bytes of a chunk go as they are read: payloads of long frames straight to their places
 * in the windows, all else into a block. */
#ifndef WFI_RECORDING_VDIF_SCATTER_H
#define WFI_RECORDING_VDIF_SCATTER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/uio.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_stream.h"
#include "recording/vdif_window.h"

/** Frames of one thread that are to be read. */
typedef struct wfi_piece {
    wfi_run run;
    int32_t i_thread;
    int64_t n_now; /* so many of them, from the first on, are read with the chunk at hand */
} wfi_piece;

/** A payload that goes to its window. */
typedef struct wfi_landing {
    int64_t frame; /* where its frame begins in the file */
    int32_t i_thread;
    uint8_t *out;
} wfi_landing;

/** Start from the stream and its windows; release it. */
typedef struct wfi_scatter {
    const wfi_vdif_stream *stream;
    const wfi_vdif_window *windows; /* [n_threads] */
    wfi_landing *landings;          /* [n_landings] ascending */
    size_t n_landings;
    size_t landings_capacity;
    struct iovec *parts; /* [n_parts] */
    size_t n_parts;
    size_t parts_capacity;
} wfi_scatter;

void wfi_scatter_release(wfi_scatter *scatter);

/** Plan the read of n_bytes from `offset` on, which hold those frames of the pieces, of one file,
 *  that are read now.
 *
 *  given     block  bytes that do not land in a window go there, each as far from its begin as it
 *                   stands in the file from `offset`
 *  returned  parts of the scatter
 *            lands  every payload goes to its window; false: none does, for a frame is short, they
 *                   are too many, or such as were taken on trust overlap
 */
wf_status wfi_scatter_plan(wfi_scatter *scatter, const wfi_piece *pieces, size_t n_pieces,
                           int64_t offset, size_t n_bytes, uint8_t *block, bool *lands,
                           wf_error *err);

#endif
