/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kernels in AVX-512; the processor is asked before (kernels.c). */
#include "engine/lanes_avx512.h"

#include "engine/kernels_scalar.h"

/* These use one another in this order. */
#include "engine/phases_body.h"

#include "engine/channel_lanes.h"

#include "engine/batch_butterfly_lanes.h"

#include "engine/batch_words_lanes.h"

#include "engine/batch_transform_lanes.h"

#include "engine/batch_phases_lanes.h"

#include "engine/batch_channel_lanes.h"

#include "engine/batch_split_lanes.h"

#include "engine/batch_join_lanes.h"

#include "engine/cross_lanes.h"

#include "engine/batch_cross_lanes.h"

/* Eight codes are less than 32 bits, sixteen are not: vectors of 8 decode faster. */
static double unpack(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t sample,
                     uint32_t channel, size_t n, float *out)
{
    return wfi_kernels_avx2.unpack(unpacker, bytes, sample, channel, n, out);
}

static const wfi_batch_kernels batch_kernels = {
    .transform = batch_transform,
    .transform_rotated = batch_transform_rotated,
    .phases = batch_phases,
    .split = batch_split,
    .join = batch_join,
    .turn = batch_turn,
    .cross = batch_cross,
};

const wfi_kernels wfi_kernels_avx512 = {
    .name = "avx512",
    .phases = set_phases,
    .unpack = unpack,
    .rotate = rotate,
    .split = split,
    .place = place,
    .cross = cross,
    .batch = &batch_kernels,
};
