/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands in a stretch of a VDIF file, in the order of the file. */
#ifndef WFI_RECORDING_VDIF_FINDINGS_H
#define WFI_RECORDING_VDIF_FINDINGS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

/** Frames of one thread, k, k + 1, ..., at even distances in a file. */
typedef struct wfi_run {
    int64_t k; /* frame of the thread since the origin */
    int64_t n;
    int64_t offset;
    int64_t stride; /* bytes; 0 while n is 1 */
    uint32_t i_file;
    bool proven; /* every header was seen; else the first and the last were, and fit each other */
} wfi_run;

/** Start from {0}; release it. */
typedef struct wfi_run_list {
    wfi_run *runs;
    size_t n;
    size_t capacity;
} wfi_run_list;

static inline int64_t wfi_run_end(const wfi_run *run)
{
    return run->k + run->n;
}

/** The part [from, to) of a run. */
static inline wfi_run wfi_run_part(wfi_run run, int64_t from, int64_t to)
{
    run.offset += (from - run.k) * run.stride;
    run.k = from;
    run.n = to - from;
    return run;
}

/** Index of the first run that ends after k; list->n where there is none. */
size_t wfi_run_list_after(const wfi_run_list *list, int64_t k);

/** What stands in a file and is no valid frame. */
typedef struct wfi_stander {
    wf_fault_kind kind;
    int32_t i_thread; /* -1: not known */
    bool has_k;
    int64_t k;
    int64_t offset;
    int64_t n_bytes;
    int64_t n_frames;
} wfi_stander;

typedef struct wfi_findings {
    uint32_t i_file;
    size_t n_threads;
    wfi_run_list *threads; /* [n_threads] */
    wfi_stander *standers; /* [n_standers] */
    size_t n_standers;
    size_t standers_capacity;
} wfi_findings;

wf_status wfi_findings_create(wfi_findings *out, uint32_t i_file, size_t n_threads, wf_error *err);
void wfi_findings_release(wfi_findings *findings);

/** Append n frames of a thread; they go on with its last run where they fit. */
wf_status wfi_findings_add_run(wfi_findings *findings, size_t i_thread, wfi_run run, wf_error *err);

/** Append what is no valid frame; what goes on becomes part of the last. */
wf_status wfi_findings_add_stander(wfi_findings *findings, wfi_stander stander, wf_error *err);

/** Append to `out` what a list, ascending in time, has of frames [from, to). */
wf_status wfi_run_list_cut(const wfi_run_list *list, int64_t from, int64_t to, wfi_run_list *out,
                           wf_error *err);

wf_status wfi_run_list_append(wfi_run_list *list, wfi_run run, wf_error *err);
void wfi_run_list_release(wfi_run_list *list);

#endif
