/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a recording of any format consists of. */
#ifndef WFI_RECORDING_RECORDING_STATE_H
#define WFI_RECORDING_RECORDING_STATE_H

#include <stddef.h>
#include <whitefringe/recording.h>

#include "recording/exclusions.h"
#include "recording/format.h"

/** Sample numbers beyond this are no place in any recording; sums of two do not overflow. */
#define WFI_FARTHEST_SAMPLE (INT64_C(1) << 60)

struct wf_recording {
    const wfi_format *format;
    void *state;
    wf_recording_info info;
    char owner[WF_NAME_BYTES]; /* empty: nobody's */
    wfi_exclusions exclusions;
    wfi_fault_log *log; /* its own allocation: asking a const recording puts it in order */
};

#endif
