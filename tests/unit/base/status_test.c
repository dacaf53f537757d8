/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/status.h"

static void status_first_error_wins(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    assert_int_equal(wfi_fail(&err, WF_IO, "first %d", 1), WF_IO);
    assert_int_equal(wfi_fail(&err, WF_FORMAT, "second"), WF_FORMAT);
    assert_string_equal(err.message, "first 1");
    assert_int_equal(err.status, WF_IO);
    assert_int_equal(wfi_fail(NULL, WF_IO, "nobody listens"), WF_IO);
}

static void status_prefix_names_the_place(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_prefix(&err, "unused: ");
    assert_string_equal(err.message, "");
    (void)wfi_fail(&err, WF_IO, "short read");
    wfi_prefix(&err, "station %s: ", "Alder");
    assert_string_equal(err.message, "station Alder: short read");
}

static void status_has_a_text_for_every_code(void **state)
{
    (void)state;
    for (int i = WF_OK; i <= WF_CANCELLED; i++) {
        assert_true(strlen(wf_status_text((wf_status)i)) > 3);
        assert_string_not_equal(wf_status_text((wf_status)i), "no such status");
    }
    assert_string_equal(wf_status_text((wf_status)99), "no such status");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(status_first_error_wins),
        cmocka_unit_test(status_prefix_names_the_place),
        cmocka_unit_test(status_has_a_text_for_every_code),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
