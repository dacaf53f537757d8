/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "throughput/fma_peak.h"

/* x -> 3/4 x + 1/4 has its fixed point at 1, which every chain's first lane reaches: with the
 * chains that the flops are counted for, two operations a lane. */
static void chains_reach_their_fixed_point(void **state)
{
    (void)state;
    const wfi_fma_peak peak = wfi_fma_peak_here();
    const double sum = (double)peak.run(10);
    wf_check_near("sum of the chains", sum, 12.0, 12 * 1e-6, "");
}

static void flops_are_those_of_whole_vectors(void **state)
{
    (void)state;
    const wfi_fma_peak peak = wfi_fma_peak_here();
    const size_t lanes = strcmp(peak.name, "AVX-512") == 0 ? 16
                         : strcmp(peak.name, "AVX2") == 0  ? 8
                                                           : 4;
    assert_int_equal(peak.flops, 2 * lanes * 12 * 64);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chains_reach_their_fixed_point),
        cmocka_unit_test(flops_are_those_of_whole_vectors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
