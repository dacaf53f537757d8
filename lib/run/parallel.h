/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loops over threads. The only place of OpenMP in the library. */
#ifndef WFI_RUN_PARALLEL_H
#define WFI_RUN_PARALLEL_H

#include <stddef.h>
#include <whitefringe/status.h>

/** Work on one item.
 *
 *  given  i_worker  which of the loop's threads runs it, 0..n_threads-1: the scratch to use
 */
typedef wf_status (*wfi_parallel_item)(void *context, size_t i_item, size_t i_worker,
                                       wf_error *err);

/** Run n_items items over n_threads threads, each once, in any order.
 *
 *  Item i writes what belongs to item i only; results then cannot depend on the threads. When
 *  several fail, the error of the lowest is given.
 */
wf_status wfi_parallel_for(size_t n_items, size_t n_threads, wfi_parallel_item item, void *context,
                           wf_error *err);

/** One thread's part of a loop. */
typedef void (*wfi_thread_body)(void *loop, size_t i_worker);

/** Run `body` on n_threads threads, or fewer where the system gives no more; return when all have.
 */
void wfi_run_threads(wfi_thread_body body, void *loop, size_t n_threads);

/** Threads that the machine runs at once, at least 1. */
size_t wfi_parallel_cores(void);

#endif
