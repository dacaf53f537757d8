/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loops over threads, by OpenMP; by pthreads where the thread sanitizer is to look, since it does
 * not see through OpenMP's own library. */
#include "run/parallel.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/status.h"

size_t wfi_parallel_cores(void)
{
    const long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n > 0 ? (size_t)n : 1;
}

typedef struct work {
    wfi_parallel_item item;
    void *context;
    size_t n_items;
    wf_error *errors; /* [n_items] */
    atomic_size_t next;
} work;

static void run_worker(void *p, size_t i_worker)
{
    work *loop = p;
    for (size_t i = atomic_fetch_add(&loop->next, 1); i < loop->n_items;
         i = atomic_fetch_add(&loop->next, 1)) {
        const wf_status status = loop->item(loop->context, i, i_worker, &loop->errors[i]);
        if (status != WF_OK && loop->errors[i].status == WF_OK)
            loop->errors[i].status = status;
    }
}

#if defined(__SANITIZE_THREAD__)
typedef struct worker_start {
    wfi_thread_body body;
    void *loop;
    size_t i_worker;
} worker_start;

static void *worker_main(void *argument)
{
    const worker_start *start = argument;
    start->body(start->loop, start->i_worker);
    return NULL;
}

void wfi_run_threads(wfi_thread_body body, void *loop, size_t n_threads)
{
    enum { THREADS_MAX = 64 };
    pthread_t threads[THREADS_MAX];
    worker_start starts[THREADS_MAX];
    bool started[THREADS_MAX] = {false};
    const size_t n = n_threads < THREADS_MAX ? n_threads : THREADS_MAX;
    for (size_t i = 1; i < n; i++) {
        starts[i] = (worker_start){body, loop, i};
        started[i] = pthread_create(&threads[i], NULL, worker_main, &starts[i]) == 0;
    }
    body(loop, 0);
    for (size_t i = 1; i < n; i++) {
        if (started[i])
            pthread_join(threads[i], NULL);
    }
}
#else
#include <omp.h>

void wfi_run_threads(wfi_thread_body body, void *loop, size_t n_threads)
{
#pragma omp parallel num_threads((int)n_threads)
    body(loop, (size_t)omp_get_thread_num());
}
#endif

wf_status wfi_parallel_for(size_t n_items, size_t n_threads, wfi_parallel_item item, void *context,
                           wf_error *err)
{
    work loop = {.item = item, .context = context, .n_items = n_items};
    WFI_TRY(wfi_allocate(&loop.errors, n_items, sizeof *loop.errors, "a loop", err));
    atomic_init(&loop.next, 0);
    wfi_run_threads(run_worker, &loop, n_threads < n_items ? n_threads : n_items);
    wf_status status = WF_OK;
    for (size_t i = 0; i < n_items && status == WF_OK; i++) {
        status = loop.errors[i].status;
        if (status != WF_OK)
            (void)wfi_fail(err, status, "%s", loop.errors[i].message);
    }
    wfi_free(loop.errors);
    return status;
}
