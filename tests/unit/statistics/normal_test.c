/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "statistics/normal.h"

/* Source: scipy 1.10, scipy.stats.norm.isf and gamma.sf; the normal quantiles also in Abramowitz
 * and Stegun 1964, table 26.5. */
static void normal_quantiles_are_those_of_tables(void **state)
{
    (void)state;
    wf_check_near("5 %", wfi_normal_quantile_above(0.05), 1.6448536269514729, 1e-11, "");
    wf_check_near("half", wfi_normal_quantile_above(0.5), 0.0, 1e-11, "");
    wf_check_near("1e-9", wfi_normal_quantile_above(1e-9), 5.9978070150076874, 1e-10, "");
    wf_check_near("back", wfi_normal_above(1.2815515655446004), 0.1, 1e-15, "");
}

/* Source: closed forms. Shape 1: exp(-x). Shape 3: exp(-x) (1 + x + x^2/2). Shape 1/2:
 * erfc(sqrt(x)). */
static void gamma_tail_follows_closed_forms(void **state)
{
    (void)state;
    for (double x = 0.01; x < 60; x *= 1.7) {
        const double e = exp(-x);
        wf_check_near("shape 1", wfi_gamma_above(1, x) / e, 1, 1e-11, "");
        wf_check_near("shape 3", wfi_gamma_above(3, x) / (e * (1 + x + x * x / 2)), 1, 1e-11, "");
        wf_check_near("shape 1/2", wfi_gamma_above(0.5, x) / erfc(sqrt(x)), 1, 1e-10, "");
    }
    assert_true(wfi_gamma_above(3, 0) == 1.0);
}

/* Source: a gamma variable of large shape a is normal with mean a - 1/3 in its cube root's sense;
 * the median lies 1/3 - 0.0247/a below the mean (Chen and Rubin 1986). */
static void gamma_quantiles_bring_the_tail_back(void **state)
{
    (void)state;
    for (double shape = 0.5; shape < 3e7; shape *= 7) {
        for (double p = 1e-7; p < 1; p *= 9) {
            const double x = wfi_gamma_quantile_above(shape, p);
            wf_check_near("p", wfi_gamma_above(shape, x) / p, 1, 1e-6, "");
        }
        if (shape > 10)
            wf_check_near("median", wfi_gamma_quantile_above(shape, 0.5), shape - 1.0 / 3, 0.0025,
                          "");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(normal_quantiles_are_those_of_tables),
        cmocka_unit_test(gamma_tail_follows_closed_forms),
        cmocka_unit_test(gamma_quantiles_bring_the_tail_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
