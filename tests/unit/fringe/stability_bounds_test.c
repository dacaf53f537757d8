/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Curves of a maser and of the atmosphere. */
#include "support/check.h"

#include <whitefringe/stability.h>

/* Common practice: typical hydrogen masers, 1e-13 at 1 s, 2e-14 at 10 s, 5e-15 at 100 s, 2e-15 at
 * 1000 s, a floor of 1e-15 at 1e4 s; within 15 %, for the curve is one of round numbers. */
static void a_maser_is_a_typical_one(void **state)
{
    (void)state;
    static const double table[][2] = {
        {1, 1e-13}, {10, 2e-14}, {100, 5e-15}, {1000, 2e-15}, {1e4, 1e-15}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        wf_check_near("maser", wf_maser_allan_deviation(table[i][0]) / table[i][1], 1, 0.15, "");
}

/* Source: scipy 1.10.1, integrate.quad of the path's structure function
 * 2 C^2 integral over 0..h of (h - z) ((d^2 + z^2)^(1/3) - z^(2/3)) dz with C = 2.4e-7 m^(-1/3),
 * h = 2000 m, d = 8 m/s tau and 2 d; D into sqrt((4 D(tau) - D(2 tau)) / 2) / (c tau). */
static void the_atmosphere_is_that_of_kolmogorov(void **state)
{
    (void)state;
    static const double table[][2] = {{1, 2.2175863571e-13},
                                      {10, 1.4908535640e-13},
                                      {100, 8.9004520203e-14},
                                      {1000, 3.1122923901e-14},
                                      {1e4, 7.3939717205e-15}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        wf_check_near("atmosphere", wf_atmosphere_allan_deviation(table[i][0]) / table[i][1], 1,
                      1e-6, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_maser_is_a_typical_one),
        cmocka_unit_test(the_atmosphere_is_that_of_kolmogorov),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
