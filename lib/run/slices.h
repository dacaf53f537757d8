/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The slices of a session, worked over threads, given out whole and in the order of time. */
#ifndef WFI_RUN_SLICES_H
#define WFI_RUN_SLICES_H

#include "run/tasks.h"

/** What is done with the slices.
 *
 *  watch   on any thread, once a slice, before its first stretch; leaves its result at a place,
 *          0..n_places-1; NULL: nothing
 *  take    in the order of time: what `watch` left at this place is of the slice that begins; NULL:
 *          nothing
 *  finish  in the order of time: the sums of a whole slice
 */
typedef struct wfi_slices_sink {
    wf_status (*watch)(void *context, const wf_slice *slice, size_t i_worker, size_t i_place,
                       wf_error *err);
    void (*take)(void *context, size_t i_place);
    wf_status (*finish)(void *context, const wf_slice *slice, const wf_partial *sums,
                        wf_error *err);
    void *context;
} wfi_slices_sink;

/** Stretches that threads have at hand together: under way, or waiting to be added. */
size_t wfi_slices_places(const wf_plan *plan, size_t n_threads);

/** Correlate all tasks.
 *
 *  A slice, one integration of one scan, is cut into stretches of fixed length. Threads only decide
 *  who works which stretch; sums are added in the order of time, so they cannot depend on them.
 *  status  as wf_plan_execute and the sink; MEMORY
 */
wf_status wfi_slices_run(const wfi_tasks *tasks, size_t n_threads, const wfi_slices_sink *sink,
                         wf_error *err);

#endif
