/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job cut into tasks: one stretch of one integration of one scan each, in the order of time. */
#ifndef WFI_RUN_TASKS_H
#define WFI_RUN_TASKS_H

#include <stdbool.h>

#include "run/session.h"

typedef struct wfi_task {
    wf_slice slice;
    int64_t i_stretch;
    bool begins_slice;
    bool ends_slice;
} wfi_task;

/** Tasks of a session, computed when asked for. */
typedef struct wfi_tasks {
    const wfi_session *session;
    int64_t segments_per_slice;
    size_t *first_task; /* [n_scans + 1] */
    size_t n_tasks;
    int64_t n_slices;
} wfi_tasks;

wf_status wfi_tasks_create(wfi_tasks *tasks, const wfi_session *session, wf_error *err);
void wfi_tasks_destroy(wfi_tasks *tasks);

wfi_task wfi_tasks_get(const wfi_tasks *tasks, size_t i_task);

#endif
