/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frames that a load wants, read chunk by chunk in the order of the files. */
#ifndef WFI_RECORDING_VDIF_CHUNKS_H
#define WFI_RECORDING_VDIF_CHUNKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/read_ahead.h"
#include "recording/vdif_scatter.h"
#include "recording/vdif_stream.h"
#include "recording/vdif_window.h"

typedef struct wfi_chunks {
    const wfi_vdif_stream *stream;
    wfi_piece *pieces; /* [n_pieces] to be read, in the order of the files where in_order */
    size_t n_pieces;
    size_t pieces_capacity;
    bool in_order;
    size_t n_begun; /* the first of them, which are under way */
    size_t next;    /* of those not begun */
    uint8_t *block;
    size_t capacity; /* bytes of a chunk */
    /* the chunk at hand */
    size_t n_ready; /* the first pieces, frames of which begin and end in it: n_now, maybe none */
    const uint8_t *bytes;
    int64_t offset; /* of bytes[0] in its file */
    size_t n_bytes; /* fewer than its frames take where the file has become shorter */
    bool landed;    /* payloads are not in `bytes` but in their windows, where they belong */
    bool refused;   /* the system does not give them: one frame */
    wfi_scatter scatter;
    wfi_read_ahead ahead;
} wfi_chunks;

/** given     windows   [n_threads] that the payloads are for
 *            capacity  largest number of samples of one load
 *  returned  out  to be released, on failure too
 */
wf_status wfi_chunks_create(wfi_chunks *out, const wfi_vdif_stream *stream,
                            const wfi_vdif_window *windows, int64_t capacity, wf_error *err);
void wfi_chunks_release(wfi_chunks *chunks);

/** Forget what is to be read. */
void wfi_chunks_clear(wfi_chunks *chunks);
wf_status wfi_chunks_add(wfi_chunks *chunks, wfi_piece piece, wf_error *err);

/** Read the next chunk; n_ready is 0 after the last. The bytes from the end of its last frame to
 *  the end of the header that should follow belong to it too, where they can be read. */
wf_status wfi_chunks_next(wfi_chunks *chunks, wf_error *err);

#endif
