/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Makes a part of an index exact that was taken on trust. */
#ifndef WFI_RECORDING_VDIF_REFINE_H
#define WFI_RECORDING_VDIF_REFINE_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_index.h"

/* What stands in an interval once every header in it was seen. */
typedef struct wfi_refined {
    size_t n_threads;
    wfi_run_list *threads; /* [n_threads] */
    int64_t *begin;        /* [n_threads] frames that the interval was trusted to hold */
    int64_t *end;          /* [n_threads] */
} wfi_refined;

/** Look at every header of an interval, and log what is wrong there.
 *
 *  returned  out  to be destroyed; NULL on failure
 */
wf_status wfi_refined_create(wfi_refined **out, const wfi_vdif_index *index, size_t i_file,
                             const wfi_interval *interval, wf_error *err);

/** Accepts NULL. */
void wfi_refined_destroy(wfi_refined *refined);

#endif
