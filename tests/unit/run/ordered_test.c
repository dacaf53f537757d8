/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <pthread.h>
#include <stdbool.h>
#include <time.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/ordered.h"

enum { ITEMS = 500, THREADS_MAX = 7, PLACES_MAX = 4, NEVER = ITEMS };

/* What the loop did. */
typedef struct record {
    size_t n_threads;
    size_t n_places; /* of each thread */
    size_t failing_work;
    size_t failing_finish;
    size_t result[THREADS_MAX * PLACES_MAX]; /* the item whose result is there */
    bool begun[ITEMS];
    size_t n_finished;
} record;

static wf_status work(void *context, size_t i_item, size_t i_worker, size_t i_place, wf_error *err)
{
    record *r = context;
    if (i_worker >= r->n_threads || i_place / r->n_places != i_worker || r->begun[i_item])
        return wfi_fail(err, WF_ARGUMENT, "item %zu: worker %zu, place %zu", i_item, i_worker,
                        i_place);
    r->begun[i_item] = true;
    r->result[i_place] = i_item;
    return i_item >= r->failing_work ? wfi_fail(err, WF_IO, "item %zu not worked", i_item) : WF_OK;
}

static wf_status finish(void *context, size_t i_item, size_t i_place, wf_error *err)
{
    record *r = context;
    if (r->n_finished != i_item || r->result[i_place] != i_item)
        return wfi_fail(err, WF_ARGUMENT, "item %zu out of turn", i_item);
    if (i_item >= r->failing_finish)
        return wfi_fail(err, WF_RANGE, "item %zu not finished", i_item);
    r->n_finished++;
    return WF_OK;
}

static record run(size_t n_threads, size_t n_places, record asked, wf_status *status, wf_error *err)
{
    asked.n_threads = n_threads;
    asked.n_places = n_places;
    const wfi_ordered_steps steps = {
        .work = work, .finish = finish, .context = &asked, .n_places = n_places};
    *status = wfi_ordered_for(ITEMS, n_threads, &steps, err);
    return asked;
}

static void ordered_finishes_each_item_in_its_turn(void **state)
{
    (void)state;
    const record asked = {.failing_work = NEVER, .failing_finish = NEVER};
    for (size_t n_threads = 1; n_threads <= THREADS_MAX; n_threads++) {
        for (size_t n_places = 1; n_places <= PLACES_MAX; n_places++) {
            wf_error err = WF_ERROR_INIT;
            wf_status status;
            const record r = run(n_threads, n_places, asked, &status, &err);
            wf_check_ok(status, &err);
            assert_int_equal(r.n_finished, ITEMS);
        }
    }
}

/* Beyond the item that failed at most those are begun for which there are places. */
static void check_stopped(const record *r, size_t failed)
{
    assert_int_equal(r->n_finished, failed);
    for (size_t i = failed + r->n_threads * r->n_places; i < ITEMS; i++)
        assert_false(r->begun[i]);
}

static void ordered_stops_at_the_lowest_failure(void **state)
{
    (void)state;
    for (size_t n_places = 1; n_places <= PLACES_MAX; n_places++) {
        wf_status status;
        wf_error err = WF_ERROR_INIT;
        record r = run(THREADS_MAX, n_places, (record){.failing_work = 13, .failing_finish = NEVER},
                       &status, &err);
        wf_check_refused(status, WF_IO, &err, "item 13 not worked");
        check_stopped(&r, 13);
        err = (wf_error)WF_ERROR_INIT;
        r = run(THREADS_MAX, n_places, (record){.failing_work = 20, .failing_finish = 17}, &status,
                &err);
        wf_check_refused(status, WF_RANGE, &err, "item 17 not finished");
        check_stopped(&r, 17);
    }
}

/* One thread is held up in its first item until the other has filled all its places. */
typedef struct hold_up {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    size_t n_others;
} hold_up;

static wf_status work_held_up(void *context, size_t i_item, size_t i_worker, size_t i_place,
                              wf_error *err)
{
    hold_up *h = context;
    struct timespec deadline;
    int timed_out = 0;
    (void)i_worker;
    (void)i_place;
    clock_gettime(CLOCK_REALTIME, &deadline);
    deadline.tv_sec += 60;
    pthread_mutex_lock(&h->lock);
    h->n_others += i_item > 0;
    pthread_cond_broadcast(&h->changed);
    while (i_item == 0 && h->n_others < PLACES_MAX && timed_out == 0)
        timed_out = pthread_cond_timedwait(&h->changed, &h->lock, &deadline);
    pthread_mutex_unlock(&h->lock);
    return timed_out == 0 ? WF_OK : wfi_fail(err, WF_IO, "the others were held up too");
}

static wf_status finish_held_up(void *context, size_t i_item, size_t i_place, wf_error *err)
{
    (void)context;
    (void)i_item;
    (void)i_place;
    (void)err;
    return WF_OK;
}

static void ordered_lets_others_go_ahead_of_a_thread_that_is_held_up(void **state)
{
    (void)state;
    hold_up h = {PTHREAD_MUTEX_INITIALIZER, PTHREAD_COND_INITIALIZER, 0};
    const wfi_ordered_steps steps = {
        .work = work_held_up, .finish = finish_held_up, .context = &h, .n_places = PLACES_MAX};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_ordered_for(ITEMS, 2, &steps, &err), &err);
    assert_int_equal(h.n_others, ITEMS - 1);
}

static void ordered_takes_no_items(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const wfi_ordered_steps steps = {.work = work, .finish = finish, .n_places = 1};
    wf_check_ok(wfi_ordered_for(0, 4, &steps, &err), &err);
}

static void ordered_tells_of_lacking_memory(void **state)
{
    (void)state;
    const record asked = {.failing_work = NEVER, .failing_finish = NEVER};
    wf_status status = WF_MEMORY;
    for (long n = 1; status != WF_OK; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        const record r = run(2, 1, asked, &status, &err);
        wfi_memory_fail_after(0);
        if (status != WF_OK)
            wf_check_refused(status, WF_MEMORY, &err, "a loop");
        assert_int_equal(r.n_finished, status == WF_OK ? ITEMS : 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ordered_finishes_each_item_in_its_turn),
        cmocka_unit_test(ordered_stops_at_the_lowest_failure),
        cmocka_unit_test(ordered_lets_others_go_ahead_of_a_thread_that_is_held_up),
        cmocka_unit_test(ordered_takes_no_items),
        cmocka_unit_test(ordered_tells_of_lacking_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
