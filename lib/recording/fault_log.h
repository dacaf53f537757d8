/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was found wrong with a recording, by whoever met it.
 *
 *  Entries are appended as they are met, by any thread and more than once where stretches are read
 *  again; whoever asks gets them sorted and each place once.
 */
#ifndef WFI_RECORDING_FAULT_LOG_H
#define WFI_RECORDING_FAULT_LOG_H

#include <pthread.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

/** A stretch of one kind without a break. */
typedef struct wfi_fault {
    wf_fault_kind kind;
    int32_t i_thread; /* -1: of no one thread, and of no time */
    uint32_t part;    /* 0: of all its streams; else 1 + the exclusion that it belongs to */
    uint32_t i_file;
    bool loses_samples; /* [first, first + n) is invalid for it */
    bool has_time;
    int64_t offset_bytes;
    int64_t n_bytes;
    int64_t n_frames;
    int64_t first; /* sample of the thread */
    int64_t n;
} wfi_fault;

/** A list of one reader's own. Start from {0}; release it. */
typedef struct wfi_fault_list {
    wfi_fault *entries; /* [n] */
    size_t n;
    size_t capacity;
} wfi_fault_list;

/** Append; what goes on where the last entry ends becomes part of it. */
wf_status wfi_fault_list_append(wfi_fault_list *list, wfi_fault fault, wf_error *err);
void wfi_fault_list_release(wfi_fault_list *list);

/** The log that all readers of a recording share. */
typedef struct wfi_fault_log {
    pthread_mutex_t lock;
    wfi_fault_list list;
    size_t n_sorted; /* entries before this are sorted and stand once */
    char **warnings; /* [n_warnings] */
    size_t n_warnings;
    size_t warnings_capacity;
} wfi_fault_log;

void wfi_fault_log_init(wfi_fault_log *log);
void wfi_fault_log_destroy(wfi_fault_log *log);

/** Take over the entries of a list, which is left empty. */
wf_status wfi_fault_log_take(wfi_fault_log *log, wfi_fault_list *list, wf_error *err);

/** Warnings are added while the recording is opened, by one thread. */
wf_status wfi_fault_log_warn(wfi_fault_log *log, wf_error *err, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** What a place means in time and frames. */
typedef struct wfi_fault_scale {
    wf_instant origin;
    int64_t sample_rate_hz;
    int64_t frame_bytes; /* from frame to frame; 0: no frames */
    const wf_thread_info *threads;
} wfi_fault_scale;

wf_status wfi_fault_log_count(wfi_fault_log *log, const wfi_fault_scale *scale,
                              wf_fault faults[WF_FAULT_N_KINDS], wf_error *err);
wf_status wfi_fault_log_losses(wfi_fault_log *log, int32_t i_thread, uint32_t part, int64_t first,
                               int64_t n, int64_t lost[WF_FAULT_N_KINDS], wf_error *err);

#endif
