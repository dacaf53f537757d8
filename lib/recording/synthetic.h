/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A recording that stands in memory: random samples that begin anew after a period, without end in
 * time. For measuring what remains when no file has to be read. */
#ifndef WFI_RECORDING_SYNTHETIC_H
#define WFI_RECORDING_SYNTHETIC_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>

typedef struct wfi_synthetic {
    wf_instant origin;
    int64_t sample_rate_hz;
    wf_sample_format format; /* of each thread; offset binary */
    size_t n_threads;        /* with thread IDs 0, 1, ... */
    int64_t period;          /* samples; a multiple of 8 */
    uint64_t seed;
} wfi_synthetic;

/** status  OK | ARGUMENT: no whole number of bytes in a period, or no offset binary | MEMORY */
wf_status wfi_synthetic_open(wf_recording **out, const wfi_synthetic *setup, wf_error *err);

#endif
