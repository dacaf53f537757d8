/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a plan holds: everything that is decided before the first sample is read. Immutable. */
#ifndef WFI_ENGINE_PLAN_H
#define WFI_ENGINE_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/engine.h>

#include "engine/channelize.h"
#include "engine/grid.h"
#include "engine/unpack.h"

/** One thread of one recording, and the streams that are taken from it. */
typedef struct wfi_feed {
    size_t i_recording;
    size_t i_thread;
    wfi_unpacker unpacker;
    const size_t *streams;    /* [n_streams] into the grid's */
    const uint32_t *channels; /* [n_streams] of the thread */
    size_t n_streams;
} wfi_feed;

struct wf_plan {
    wfi_grid *grid;
    wf_shape shape;
    double *band_first_hz;           /* [n_bands] */
    int product_input[4][2];         /* index of the first and second station's polarization */
    const wf_recording **recordings; /* [n_recordings] borrowed */
    size_t n_recordings;
    size_t *recording_stream; /* [n_recordings] one of its streams, SIZE_MAX: none is used */
    wfi_feed *feeds;          /* [n_feeds] by recording */
    size_t n_feeds;
    size_t *stream_order;    /* [n_streams] streams by feed; the feeds' lists point into it */
    uint32_t *channel_order; /* [n_streams] */
    size_t *feed_of_stream;  /* [n_streams] SIZE_MAX: not used */
    size_t *first_piece;     /* [n_streams + 1] into grid->pieces */
    bool *rotated;           /* [n_streams] before the FFT */
    wfi_transforms *transforms;
    double rotation_loss;
    size_t n_tiles;        /* of 16 channels, in each band */
    size_t block_segments; /* summed in float; all streams' channels of a block stay in L2 */
    size_t chunk_segments; /* read at once; a multiple of block_segments */
    double largest_rate_s_per_s;
};

/** Does any band take channels from this stream? */
static inline bool wfi_plan_uses_stream(const wf_plan *plan, size_t i_stream)
{
    return plan->first_piece[i_stream] < plan->first_piece[i_stream + 1];
}

static inline size_t wfi_baseline_index(size_t n_stations, size_t i, size_t j)
{
    return i * n_stations - i * (i + 1) / 2 + j;
}

#endif
