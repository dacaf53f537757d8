/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/status.h"
#include "run/parallel.h"

enum { ITEMS = 1000, WORKERS_MAX = 64 };

typedef struct visit_log {
    int visits[ITEMS];
    size_t n_workers;
    size_t first_failing;
} visit_log;

static wf_status visit(void *context, size_t i_item, size_t i_worker, wf_error *err)
{
    visit_log *tally = context;
    tally->visits[i_item]++;
    if (i_worker >= tally->n_workers)
        return wfi_fail(err, WF_ARGUMENT, "worker %zu of %zu", i_worker, tally->n_workers);
    if (i_item >= tally->first_failing)
        return wfi_fail(err, WF_IO, "item %zu failed", i_item);
    return WF_OK;
}

static void parallel_runs_each_item_once(void **state)
{
    (void)state;
    for (size_t n_threads = 1; n_threads <= 7; n_threads++) {
        visit_log tally = {.n_workers = n_threads, .first_failing = ITEMS};
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(wfi_parallel_for(ITEMS, n_threads, visit, &tally, &err), &err);
        for (size_t i = 0; i < ITEMS; i++)
            assert_int_equal(tally.visits[i], 1);
    }
}

static void parallel_reports_the_lowest_failure(void **state)
{
    (void)state;
    visit_log tally = {.n_workers = 7, .first_failing = 13};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_parallel_for(ITEMS, 7, visit, &tally, &err), WF_IO, &err,
                     "item 13 failed");
}

static void parallel_takes_no_items_and_more_threads_than_items(void **state)
{
    (void)state;
    visit_log tally = {.n_workers = WORKERS_MAX, .first_failing = ITEMS};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_parallel_for(0, 4, visit, &tally, &err), &err);
    wf_check_ok(wfi_parallel_for(2, WORKERS_MAX, visit, &tally, &err), &err);
    assert_int_equal(tally.visits[0] + tally.visits[1] + tally.visits[2], 2);
    assert_true(wfi_parallel_cores() >= 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(parallel_runs_each_item_once),
        cmocka_unit_test(parallel_reports_the_lowest_failure),
        cmocka_unit_test(parallel_takes_no_items_and_more_threads_than_items),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
