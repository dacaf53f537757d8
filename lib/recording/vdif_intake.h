/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Takes in the frames of a load: holds each header against what it must be, puts its payload into
 * its thread's window, and remembers what was not as it should be. */
#ifndef WFI_RECORDING_VDIF_INTAKE_H
#define WFI_RECORDING_VDIF_INTAKE_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "recording/fault_log.h"
#include "recording/vdif_chunks.h"
#include "recording/vdif_stream.h"
#include "recording/vdif_window.h"

/** A frame that was not as expected. */
typedef struct wfi_failure {
    wfi_piece frame; /* one */
    wf_fault_kind kind;
    bool misplaced; /* the index may be wrong there */
} wfi_failure;

/** Start from the stream and its windows; release it. */
typedef struct wfi_intake {
    const wfi_vdif_stream *stream;
    wfi_vdif_window *windows; /* [n_threads] */
    wfi_failure *failures;    /* [n_failures] */
    size_t n_failures;
    size_t failures_capacity;
    wfi_fault_list faults; /* fill within frames */
} wfi_intake;

void wfi_intake_release(wfi_intake *intake);

/** Forget what was not as it should be. */
void wfi_intake_clear(wfi_intake *intake);

/** Take in the frames of the chunk at hand. */
wf_status wfi_intake_take(wfi_intake *intake, const wfi_chunks *chunks, wf_error *err);

#endif
