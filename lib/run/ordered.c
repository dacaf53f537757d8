/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "run/ordered.h"

#include <pthread.h>
#include <stdbool.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"

/* An item that was worked on and waits for its turn. */
typedef struct parked {
    bool waits;
    size_t i_place;
    wf_error error; /* of its work */
} parked;

typedef struct loop {
    const wfi_ordered_steps *steps;
    size_t n_items;
    pthread_mutex_t lock; /* of all that follows */
    pthread_cond_t turn_passed;
    size_t next; /* item to be begun */
    size_t turn; /* item to be finished; between the two are as many as there are places, at most */
    bool finishing;
    parked *parked; /* [n_parked] item i at i modulo their number */
    size_t n_parked;
    size_t *last_item; /* [n_parked] by place: 1 + the item that it was given to last; 0: none */
    wf_error error;
} loop;

/* The item that a worker takes on next, when the place for it is free; n_items: there is none. */
static size_t take_item(loop *l, size_t i_place)
{
    pthread_mutex_lock(&l->lock);
    while (l->last_item[i_place] > l->turn)
        pthread_cond_wait(&l->turn_passed, &l->lock);
    const size_t item = l->next;
    if (item < l->n_items) {
        l->next++;
        l->last_item[i_place] = item + 1;
    }
    pthread_mutex_unlock(&l->lock);
    return item;
}

static void stop_at(loop *l, wf_error *error)
{
    l->error = *error;
    l->next = l->n_items;
}

/* Finish the item whose turn it is; others may park theirs meanwhile. */
static void finish_item(loop *l)
{
    parked *p = &l->parked[l->turn % l->n_parked];
    wf_error err = p->error;
    p->waits = false;
    if (l->error.status == WF_OK && err.status == WF_OK) {
        pthread_mutex_unlock(&l->lock);
        const wf_status status = l->steps->finish(l->steps->context, l->turn, p->i_place, &err);
        pthread_mutex_lock(&l->lock);
        err.status = status;
    }
    if (l->error.status == WF_OK && err.status != WF_OK)
        stop_at(l, &err);
    l->turn++;
    pthread_cond_broadcast(&l->turn_passed);
}

static void park(loop *l, size_t item, const parked *done)
{
    pthread_mutex_lock(&l->lock);
    l->parked[item % l->n_parked] = *done;
    if (!l->finishing) {
        l->finishing = true;
        while (l->parked[l->turn % l->n_parked].waits)
            finish_item(l);
        l->finishing = false;
    }
    pthread_mutex_unlock(&l->lock);
}

static void run_worker(void *p, size_t i_worker)
{
    loop *l = p;
    const size_t n_places = l->steps->n_places;
    for (size_t k = 0;; k = (k + 1) % n_places) {
        parked done = {.waits = true, .i_place = i_worker * n_places + k, .error = WF_ERROR_INIT};
        const size_t item = take_item(l, done.i_place);
        if (item >= l->n_items)
            return;
        done.error.status =
            l->steps->work(l->steps->context, item, i_worker, done.i_place, &done.error);
        park(l, item, &done);
    }
}

static wf_status run(loop *l, size_t n_threads, wf_error *err)
{
    WFI_TRY(wfi_allocate(&l->parked, l->n_parked, sizeof *l->parked, "a loop", err));
    WFI_TRY(wfi_allocate(&l->last_item, l->n_parked, sizeof *l->last_item, "a loop", err));
    pthread_mutex_init(&l->lock, NULL);
    pthread_cond_init(&l->turn_passed, NULL);
    wfi_run_threads(run_worker, l, n_threads);
    pthread_cond_destroy(&l->turn_passed);
    pthread_mutex_destroy(&l->lock);
    return l->error.status == WF_OK ? WF_OK
                                    : wfi_fail(err, l->error.status, "%s", l->error.message);
}

wf_status wfi_ordered_for(size_t n_items, size_t n_threads, const wfi_ordered_steps *steps,
                          wf_error *err)
{
    loop l = {
        .steps = steps,
        .n_items = n_items,
        .n_parked = n_threads * steps->n_places,
        .error = WF_ERROR_INIT,
    };
    const wf_status status = run(&l, n_threads < n_items ? n_threads : n_items, err);
    wfi_free(l.parked);
    wfi_free(l.last_item);
    return status;
}
