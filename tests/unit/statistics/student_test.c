/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Student's distribution against scipy's. */
#include "support/check.h"

#include <statistics/student.h>

/* Source: scipy 1.10.1, 2 * stats.t.sf(x, n). */
static void probabilities_are_scipys(void **state)
{
    (void)state;
    static const struct {
        size_t n;
        double x, p;
    } table[] = {{1, 2.0, 0.2951672353008664},     {2, 3.0, 0.09546596626670911},
                 {5, 4.5, 0.006399536346324295},   {8, 2.5, 0.03694203771362407},
                 {47, 6.0, 2.691662237841834e-07}, {300, 4.0, 7.98400448371945e-05}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        wf_check_near("probability", wfi_student_beyond(table[i].n, table[i].x), table[i].p, 1e-14,
                      "");
}

/* Source: scipy 1.10.1, stats.t.isf(p / 2, n). */
static void quantiles_are_scipys(void **state)
{
    (void)state;
    wf_check_near("13", wfi_student_quantile_beyond(13, 1e-7), 10.516489481929435, 1e-6, "");
    wf_check_near("6", wfi_student_quantile_beyond(6, 0.01), 3.7074280213249073, 1e-8, "");
}

/* From 1000 on the normal distribution: its tail at 5 is 5.733e-7, Student's 6.79e-7 at 1000. */
static void many_degrees_are_normal(void **state)
{
    (void)state;
    wf_check_near("1000", wfi_student_beyond(1000, 5), 5.733e-7, 1e-10, "");
    wf_check_near("999", wfi_student_beyond(999, 5), 5.733e-7, 1.2e-7, "");
    wf_check_near("none", wfi_student_beyond(5, 0), 1, 1e-15, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(probabilities_are_scipys),
        cmocka_unit_test(quantiles_are_scipys),
        cmocka_unit_test(many_degrees_are_normal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
