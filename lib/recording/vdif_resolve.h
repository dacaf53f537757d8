/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which frames of a file stand where their time says, which stand elsewhere, and which tell a time
 * that cannot be theirs. */
#ifndef WFI_RECORDING_VDIF_RESOLVE_H
#define WFI_RECORDING_VDIF_RESOLVE_H

#include <stddef.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_stream.h"

/** One thread's frames of one file. */
typedef struct wfi_resolved {
    wfi_run_list chain; /* ascending in time and place: most frames of the file */
    wfi_run_list moved; /* out of order, or there already; ascending in time */
} wfi_resolved;

/** Sort out one thread.
 *
 *  The chain is the heaviest sequence of runs that ascends in time. Frames off it are taken at
 *  their word where the file makes sense with them moved, and become standers of kind WRONG_TIME
 *  where they stand in the place of frames that are nowhere else: then it is their time that is
 *  wrong. A chain of such frames is wrong as a whole (a frame counter that is reset at the wrong
 *  second makes one).
 *
 *  returned  out  to be released by wfi_resolved_release
 */
wf_status wfi_vdif_resolve(const wfi_vdif_stream *stream, size_t i_thread, wfi_findings *findings,
                           wfi_resolved *out, wf_error *err);
void wfi_resolved_release(wfi_resolved *resolved);

/** Merge runs into others, all ascending in time; `have` goes first where both hold a frame, and
 *  of `more` what comes first.
 *
 *  returned  out    what is held by either, once
 *            extra  the parts of `more` that were there already, appended
 */
wf_status wfi_runs_merge(const wfi_run_list *have, const wfi_run_list *more, wfi_run_list *out,
                         wfi_run_list *extra, wf_error *err);

/** Ascending in time, then in the order of the files. */
void wfi_runs_sort(wfi_run_list *list);

#endif
