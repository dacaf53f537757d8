/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why frames are not there. */
#ifndef WFI_RECORDING_VDIF_LOSSES_H
#define WFI_RECORDING_VDIF_LOSSES_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_stream.h"

/** A stretch of frames of each thread, and what is known of it. */
typedef struct wfi_loss_scene {
    const wfi_vdif_stream *stream;
    const wfi_run_list *threads; /* [n_threads] what is there */
    const int64_t *begin;        /* [n_threads] frames in which losses are looked for */
    const int64_t *end;
    wfi_findings *findings; /* [n_findings] ascending file number */
    size_t n_findings;
} wfi_loss_scene;

/** Log every frame of the scene that is not there, with the reason: something else stands in its
 *  place, or nothing does. Log what stands in the files and explains no loss, too. */
wf_status wfi_vdif_log_losses(const wfi_loss_scene *scene, wfi_fault_list *list, wf_error *err);

/** Log runs as faults that lose nothing. */
wf_status wfi_vdif_log_runs(const wfi_vdif_stream *stream, size_t i_thread, wf_fault_kind kind,
                            const wfi_run_list *runs, wfi_fault_list *list, wf_error *err);

#endif
