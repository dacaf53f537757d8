/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stretches of a loaded window that are not valid. */
#ifndef WFI_RECORDING_INVALID_RUNS_H
#define WFI_RECORDING_INVALID_RUNS_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

/** Ascending, disjoint, never adjacent. Start from {0}; release it. */
typedef struct wfi_invalid_runs {
    wf_sample_range *runs;
    size_t n;
    size_t capacity;
} wfi_invalid_runs;

/** Append [first, first + n); first is not before the end of the last run. n <= 0 adds nothing. */
wf_status wfi_invalid_runs_append(wfi_invalid_runs *list, int64_t first, int64_t n, wf_error *err);
void wfi_invalid_runs_release(wfi_invalid_runs *list);

/** Sort ranges by where they begin. */
void wfi_sort_ranges(wf_sample_range *ranges, size_t n);

/** Index of the first invalid run that ends after a sample; n_invalid where there is none. */
size_t wfi_invalid_run_after(const wf_packed *packed, int64_t sample);

#endif
