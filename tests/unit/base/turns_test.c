/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/turns.h"

static void turns_keep_the_fraction_of_a_large_product(void **state)
{
    (void)state;
    /* 2^37 Hz x (2^-7 + 2^-50) s = 2^30 + 2^-13 turns, exact in binary; a plain double product
     * holds it to 2^-22 only. Closed form. */
    const double hz = ldexp(1.0, 37);
    const double s = ldexp(1.0, -7) + ldexp(1.0, -50);
    wf_check_near("turns", wfi_turns_product(hz, s), ldexp(1.0, -13), 1e-16, "turn");
    /* (2^37 + 1) x (2^-7 + 2^-50) = 2^30 + 2^-13 + 2^-7 + 2^-50 */
    wf_check_near("turns", wfi_turns_product(hz + 1, s),
                  ldexp(1.0, -13) + ldexp(1.0, -7) + ldexp(1.0, -50), 1e-16, "turn");
}

static void turns_are_reduced_to_half_a_turn(void **state)
{
    (void)state;
    for (int i = -1000; i <= 1000; i++) {
        const double x = 0.0137 * i;
        const double turns = wfi_turns_product(1.0, x);
        assert_true(fabs(turns) <= 0.5);
        wf_check_near("whole turns", rint(x - turns), x - turns, 1e-12, "turn");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turns_keep_the_fraction_of_a_large_product),
        cmocka_unit_test(turns_are_reduced_to_half_a_turn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
