/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "recording/invalid_runs.h"

static void invalid_runs_that_touch_are_one(void **state)
{
    (void)state;
    wfi_invalid_runs list = {0};
    wf_error err = WF_ERROR_INIT;
    static const int64_t appended[][2] = {{-10, 4}, {-6, 6}, {0, 0},  {0, 1},
                                          {5, 2},   {7, -3}, {8, 10}, {18, 1}};
    for (size_t i = 0; i < sizeof appended / sizeof appended[0]; i++)
        wf_check_ok(wfi_invalid_runs_append(&list, appended[i][0], appended[i][1], &err), &err);
    static const wf_sample_range want[] = {{-10, 11}, {5, 2}, {8, 11}};
    assert_int_equal(list.n, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(list.runs[i].first, want[i].first);
        assert_int_equal(list.runs[i].n, want[i].n);
    }
    wfi_invalid_runs_release(&list);
    assert_null(list.runs);
    assert_int_equal(list.n, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(invalid_runs_that_touch_are_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
