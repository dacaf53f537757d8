/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bundles: streams of one recording that lie alike in the sky, two polarizations mostly. They share
 * a delay and so the phases of their channels. */
#ifndef WFI_ENGINE_BUNDLES_H
#define WFI_ENGINE_BUNDLES_H

#include <stdbool.h>
#include <stddef.h>

#include "engine/grid.h"

typedef struct wfi_bundle {
    size_t i_recording;
    const size_t *streams; /* [n_streams] into the grid's */
    size_t n_streams;
    size_t n_pieces; /* of each; piece p of all streams differs in the input only */
} wfi_bundle;

typedef struct wfi_bundles {
    wfi_bundle *bundles; /* [n_bundles] by recording */
    size_t n_bundles;
    size_t *streams;     /* [n] the streams that any band takes, by bundle */
    size_t *first_piece; /* [n_streams + 1] of each stream, into grid->pieces */
    size_t most_streams; /* of any bundle */
    size_t most_pieces;
} wfi_bundles;

/** given  rotated  [n_streams] whether its samples are rotated before the FFT */
wf_status wfi_bundles_create(wfi_bundles *bundles, const wfi_grid *grid, const bool *rotated,
                             size_t n_recordings, wf_error *err);
void wfi_bundles_destroy(wfi_bundles *bundles);

/** Does any band take channels from this stream? */
static inline bool wfi_bundles_use(const wfi_bundles *bundles, size_t i_stream)
{
    return bundles->first_piece[i_stream] < bundles->first_piece[i_stream + 1];
}

#endif
