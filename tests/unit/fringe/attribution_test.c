/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which station accounts for what baselines show. */
#include "support/check.h"

#include <fringe/attribution.h>

#include "invented.h"

/* Station 1 by 0.6: on 0-1 -0.6, on 1-2 +0.6, on 0-2 nothing; weights 1/error^2. */
static void the_common_station_is_found(void **state)
{
    (void)state;
    const wfi_event_measure m[3] = {{0, 1, -0.6, 0.1}, {0, 2, 0.0, 0.1}, {1, 2, 0.9, 0.2}};
    for (size_t seed = 0; seed < 3; seed += 2) {
        const wfi_attribution a = wfi_attribute(m, 3, seed, 1, false);
        assert_true(a.assigned);
        assert_int_equal(a.i_station, 1);
        assert_int_equal(a.n_baselines, 2);
        wf_check_near("value", creal(a.value), (0.6 * 4 + 0.9) / 5, 1e-12, "rad");
        wf_check_near("error", a.error, 0.1 / sqrt(1.25), 1e-12, "rad");
    }
}

static void one_baseline_tells_nothing(void **state)
{
    (void)state;
    const wfi_event_measure alone[1] = {{0, 1, 1, 0.1}};
    assert_false(wfi_attribute(alone, 1, 0, 1, false).assigned);
    const wfi_event_measure apart[2] = {{0, 1, 1, 0.1}, {2, 3, 0, 0.1}};
    assert_false(wfi_attribute(apart, 2, 0, 1, false).assigned);
    const wfi_event_measure lost[2] = {{0, 1, 1, 0.1}, {0, 2, 0, 0}};
    assert_false(wfi_attribute(lost, 2, 0, 1, false).assigned);
    const wfi_event_measure two[2] = {{0, 1, 1, 0.1}, {0, 2, 0, 0.1}};
    const wfi_attribution a = wfi_attribute(two, 2, 0, 1, false);
    assert_true(a.assigned);
    assert_int_equal(a.i_station, 1);
}

/* Two stations that jump together, by 1 and 1.7, are nobody's: 0-2 shows 1, 1-2 1.7, 0-1 -0.7. */
static void two_at_once_are_nobodys(void **state)
{
    (void)state;
    const wfi_event_measure m[3] = {{0, 1, -0.7, 0.05}, {0, 2, 1, 0.05}, {1, 2, 1.7, 0.05}};
    assert_false(wfi_attribute(m, 3, 2, 1, false).assigned);
}

/* 3 rad of station 0 that one baseline has as 3 - 2 pi; a complex value. */
static void turns_do_not_count_and_complex_values_do(void **state)
{
    (void)state;
    const wfi_event_measure m[3] = {
        {0, 1, 3, 0.1}, {0, 2, 3 - 2 * INVENTED_PI, 0.1}, {1, 2, 2 * INVENTED_PI, 0.1}};
    const wfi_attribution a = wfi_attribute(m, 3, 0, 1, true);
    assert_true(a.assigned);
    assert_int_equal(a.i_station, 0);
    wf_check_near("value", creal(a.value), 3, 1e-12, "rad");
    assert_false(wfi_attribute(m, 3, 0, 1, false).assigned);
    const wfi_event_measure z[3] = {
        {0, 1, 0.5 * I, 0.05}, {0, 2, 0.01, 0.05}, {1, 2, -0.5 * I, 0.05}};
    const wfi_attribution b = wfi_attribute(z, 3, 0, 2, false);
    assert_true(b.assigned);
    assert_int_equal(b.i_station, 1);
    wf_check_near("value", cimag(b.value), -0.5, 1e-12, "rad");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_common_station_is_found),
        cmocka_unit_test(one_baseline_tells_nothing),
        cmocka_unit_test(two_at_once_are_nobodys),
        cmocka_unit_test(turns_do_not_count_and_complex_values_do),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
