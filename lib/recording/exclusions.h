/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the job excludes of the streams of a recording. */
#ifndef WFI_RECORDING_EXCLUSIONS_H
#define WFI_RECORDING_EXCLUSIONS_H

#include <stddef.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "recording/fault_log.h"

/** Samples that are excluded of some streams. */
typedef struct wfi_exclusion {
    wf_sample_range *ranges; /* [n_ranges] ascending, disjoint, not adjacent */
    size_t n_ranges;
} wfi_exclusion;

/** Start from {0}; release it. */
typedef struct wfi_exclusions {
    size_t *of_stream; /* [n_streams] index into list, or WF_NO_EXCLUSION */
    size_t n_streams;
    wfi_exclusion *list; /* [n_list] each other than the rest */
    size_t n_list;
} wfi_exclusions;

/** As far as the recording reaches; the log learns of it. On failure to be released too. */
wf_status wfi_exclusions_create(wfi_exclusions *out, const wf_recording_entry *entry,
                                const wf_recording_info *info, wfi_fault_log *log, wf_error *err);
void wfi_exclusions_release(wfi_exclusions *exclusions);

/** What wfi_fault.part is for faults of one exclusion. */
static inline uint32_t wfi_exclusion_part(size_t i_exclusion)
{
    return i_exclusion == WF_NO_EXCLUSION ? 0 : (uint32_t)i_exclusion + 1;
}

#endif
