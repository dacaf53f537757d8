/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kernels in AVX2; the processor is asked before (kernels.c). */
#include "engine/lanes_avx2.h"

#include "base/bytes.h"
#include "engine/kernels_scalar.h"

/* These use one another in this order. */
#include "engine/phases_body.h"

#include "engine/channel_lanes.h"

#include "engine/cross_lanes.h"
#include "engine/unpack_lanes.h"

const wfi_kernels wfi_kernels_avx2 = {
    .name = "avx2",
    .phases = set_phases,
    .unpack = unpack,
    .rotate = rotate,
    .split = split,
    .place = place,
    .cross = cross,
};
