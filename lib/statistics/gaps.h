/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gaps of a recording, from windows that follow one another or stand here and there. */
#ifndef WFI_STATISTICS_GAPS_H
#define WFI_STATISTICS_GAPS_H

#include <whitefringe/statistics.h>

typedef struct wfi_gaps {
    const wf_recording *recording;
    wf_window *probe; /* of one sample */
    wf_gap *list;     /* at most WF_GAPS_MAX */
    size_t n;
    size_t capacity;
    int64_t n_seen;
    wf_gap *open;     /* [n_threads] n = 0: none */
    int64_t *seen_to; /* [n_threads] end of what was looked at; INT64_MIN: nothing yet */
} wfi_gaps;

wf_status wfi_gaps_create(wfi_gaps *out, const wf_recording *recording, wf_error *err);
void wfi_gaps_release(wfi_gaps *gaps);

/** Take the invalid runs of samples [first, first + n) of a thread; windows ascend. An end that
 *  lies between two of them is searched for by halving. */
wf_status wfi_gaps_add(wfi_gaps *gaps, size_t i_thread, const wf_packed *packed, int64_t first,
                       int64_t n, wf_error *err);

/** The last window has been added: close what is open, and sort by time. */
wf_status wfi_gaps_finish(wfi_gaps *gaps, wf_error *err);

#endif
