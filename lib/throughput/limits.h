/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one core can do at best: bare transforms, bare multiply-additions. */
#ifndef WFI_THROUGHPUT_LIMITS_H
#define WFI_THROUGHPUT_LIMITS_H

#include "throughput/bare_fft.h"
#include "throughput/scene.h"

/** Operations of a complex multiply-addition. */
enum { WFI_FLOPS_OF_A_PRODUCT = 8 };

typedef struct wfi_limits {
    const char *fma_vectors;
    double fma_flops_per_s;
    double transform_s; /* of one segment of one stream, the faster route */
    double segment_s;   /* of one segment of all streams, with its cross-multiplication */
} wfi_limits;

wf_status wfi_limits_measure(wfi_limits *out, const wfi_scene_setup *setup, wfi_clock now_s,
                             wf_error *err);

/** The same limits for another number of stations. */
double wfi_limits_segment_s(const wfi_limits *limits, const wfi_scene_setup *setup);

#endif
