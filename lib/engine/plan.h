/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a plan holds: everything that is decided before the first sample is read. Immutable. */
#ifndef WFI_ENGINE_PLAN_H
#define WFI_ENGINE_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/engine.h>

#include "engine/bundles.h"
#include "engine/channelize.h"
#include "engine/grid.h"
#include "engine/pairs.h"
#include "engine/unpack.h"

/** One thread of one recording from which streams are taken of which the same is excluded. */
typedef struct wfi_feed {
    size_t i_recording;
    size_t i_thread;
    size_t i_exclusion;
    wfi_unpacker unpacker;
} wfi_feed;

/** Segments are summed by blocks (float, in registers), groups (float) and stretches (double), each
 *  a whole number of the one before, counted from the slice's first segment: every sum has one
 *  fixed order. Chunks, which are what is read at once, leave no trace in it. */
struct wf_plan {
    const wfi_kernels *kernels;
    wfi_grid *grid;
    wf_shape shape;
    double *band_first_hz;   /* [n_bands] */
    int product_input[4][2]; /* index of the first and second station's polarization */
    wfi_pairs pairs;
    const wf_recording **recordings; /* [n_recordings] borrowed */
    size_t n_recordings;
    size_t *recording_stream; /* [n_recordings] one of its streams, SIZE_MAX: none is used */
    wfi_feed *feeds;          /* [n_feeds] */
    size_t n_feeds;
    size_t *feed_of_stream; /* [n_streams] SIZE_MAX: not used */
    bool *rotated;          /* [n_streams] before the FFT */
    wfi_transforms transforms;
    wfi_bundles bundles;
    wfi_channelizer *channelizers; /* [n_bundles] */
    double rotation_loss;
    bool by_channel; /* tiles: of a channel and 16 segments, not of 16 channels and a segment */
    size_t n_rows;   /* of tiles, in each band */
    size_t block_segments;
    bool past_caches; /* the tiles of a block are too many for a cache */
    size_t group_segments;
    size_t stretch_segments;
    size_t chunk_segments;
    double largest_rate_s_per_s;
};

#endif
