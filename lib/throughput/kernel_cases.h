/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine's kernels alone, on data that stay in cache. */
#ifndef WFI_THROUGHPUT_KERNEL_CASES_H
#define WFI_THROUGHPUT_KERNEL_CASES_H

#include <stddef.h>
#include <whitefringe/status.h>

#include "throughput/scene.h"

/** One kernel with its data. */
typedef struct wfi_kernel_case wfi_kernel_case;

typedef enum wfi_kernel_kind {
    WFI_KERNEL_UNPACK,    /* a segment of one stream; counted in samples */
    WFI_KERNEL_TRANSFORM, /* the same, with the rotation before it if there is one; in samples */
    WFI_KERNEL_PHASE,     /* a segment of a station's streams of a band; in channels */
    WFI_KERNEL_EARLY,     /* a batch of a station's streams of a band: unpacking, with the rotation
                             and the early stages of the transforms; in samples */
    WFI_KERNEL_LATE,      /* the same: late stages, split, phase and layout; in channels */
    WFI_KERNEL_CROSS,     /* a tile of 16 channels, all stations and products; in flops */
} wfi_kernel_kind;

/** given   setup  rotation PLANNED is taken for one after the FFT
 *  status  OK | UNSUPPORTED: no such kernels here; EARLY, LATE: no batches of such segments |
 *          MEMORY */
wf_status wfi_kernel_case_create(wfi_kernel_case **out, wfi_kernel_kind kind,
                                 const wfi_scene_setup *setup, wf_error *err);
void wfi_kernel_case_destroy(wfi_kernel_case *made);

/** Run it as often as fills a millisecond or more. */
void wfi_kernel_case_run(wfi_kernel_case *made);

/** What a run amounts to, in the kind's units. */
double wfi_kernel_case_amount(const wfi_kernel_case *made);

#endif
