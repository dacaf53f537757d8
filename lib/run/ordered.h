/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A loop whose items are worked side by side and finished one by one in their order. */
#ifndef WFI_RUN_ORDERED_H
#define WFI_RUN_ORDERED_H

#include <stddef.h>
#include <whitefringe/status.h>

/** What is done with each item.
 *
 *  work    on any thread; leaves its result at place `i_place`, which is this item's until it is
 *          finished. i_worker, 0..n_threads-1, is the thread: the scratch to use
 *  finish  in the order of the items, one at a time, on any thread
 *
 *  Thread w has the places [w * n_places, (w + 1) * n_places) to itself.
 */
typedef struct wfi_ordered_steps {
    wf_status (*work)(void *context, size_t i_item, size_t i_worker, size_t i_place, wf_error *err);
    wf_status (*finish)(void *context, size_t i_item, size_t i_place, wf_error *err);
    void *context;
    size_t n_places; /* each thread's, at least 1 */
} wfi_ordered_steps;

/** Run n_items items over n_threads threads.
 *
 *  A sum that `finish` makes has one fixed order, whatever the threads do. A thread that was held
 *  up holds up the others only when all their places wait for it. After a failure no further item
 *  is begun; the error of the lowest item that failed is given.
 */
wf_status wfi_ordered_for(size_t n_items, size_t n_threads, const wfi_ordered_steps *steps,
                          wf_error *err);

#endif
