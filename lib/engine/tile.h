/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tiles, the unit of the cross-multiplication: 16 complex numbers of one input, real parts first.
 *
 *  A tile is of 16 channels of one segment, or, where the plan has batches, of 16 segments of one
 *  channel; in both cases a vector's lanes never meet while products are summed.
 */
#ifndef WFI_ENGINE_TILE_H
#define WFI_ENGINE_TILE_H

#include "engine/pairs.h"

enum {
    WFI_TILE_CHANNELS = 16,
    WFI_TILE_SEGMENTS = 16,
    WFI_TILE_FLOATS = 32,
    WFI_PAIR_FLOATS = WFI_PAIR_PRODUCTS * WFI_TILE_FLOATS, /* sums of 16 channels of two pairs */
    WFI_CHANNEL_PAIR_FLOATS = 2 * WFI_PAIR_PRODUCTS,       /* of one channel */
};

#endif
