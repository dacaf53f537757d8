/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frames that a load wants, read chunk by chunk in the order of the files. */
#ifndef WFI_RECORDING_VDIF_CHUNKS_H
#define WFI_RECORDING_VDIF_CHUNKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_stream.h"

/** Frames of one thread. */
typedef struct wfi_piece {
    wfi_run run;
    int32_t i_thread;
} wfi_piece;

typedef struct wfi_chunks {
    const wfi_vdif_stream *stream;
    wfi_piece *pieces; /* [n_pieces] to be read; the first n_begun of them are under way */
    size_t n_pieces;
    size_t pieces_capacity;
    size_t n_begun;
    size_t next; /* of those not begun */
    uint8_t *block;
    size_t capacity; /* bytes of a chunk */
    /* the chunk at hand */
    wfi_piece *ready; /* [n_ready] the frames that begin and end in it */
    size_t n_ready;
    size_t ready_capacity;
    const uint8_t *bytes;
    int64_t offset; /* of bytes[0] in its file */
    size_t n_bytes; /* fewer than its frames take where the file has become shorter */
    bool refused;   /* the system does not give them: ready is one frame */
} wfi_chunks;

/** To be released, on failure too. */
wf_status wfi_chunks_create(wfi_chunks *out, const wfi_vdif_stream *stream, wf_error *err);
void wfi_chunks_release(wfi_chunks *chunks);

/** Forget what is to be read. */
void wfi_chunks_clear(wfi_chunks *chunks);
wf_status wfi_chunks_add(wfi_chunks *chunks, wfi_piece piece, wf_error *err);

/** Read the next chunk; n_ready is 0 after the last. The bytes from the end of its last frame to
 *  the end of the header that should follow belong to it too, where they can be read. */
wf_status wfi_chunks_next(wfi_chunks *chunks, wf_error *err);

#endif
