/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "engine/validity.h"

static wfi_validity validity_of(const wf_sample_range *invalid, size_t n_invalid, size_t n_segments,
                                size_t n_fft)
{
    wf_error err = WF_ERROR_INIT;
    wfi_validity validity;
    wf_check_ok(wfi_validity_create(&validity, n_segments, &err), &err);
    wfi_validity_reset(&validity);
    const wf_packed packed = {
        .n = (int64_t)(n_segments * n_fft), .invalid = invalid, .n_invalid = n_invalid};
    for (size_t s = 0; s < n_segments; s++)
        wf_check_ok(wfi_validity_append(&validity, &packed, (int64_t)(s * n_fft), n_fft, &err),
                    &err);
    return validity;
}

static void validity_of_whole_segments_counts_them(void **state)
{
    (void)state;
    wfi_validity a = validity_of(NULL, 0, 5, 100);
    assert_true(a.whole);
    assert_true(wfi_validity_common(&a, &a) == 5.0);
    wfi_validity_destroy(&a);
}

/* Counted by hand: of three segments of 100 samples, a lacks 90..129 and 250..259, b lacks
 * 120..149: a has 90, 70, 90 valid, b 100, 70, 100, both together 90, 50, 90. */
static void validity_in_common_is_exact(void **state)
{
    (void)state;
    static const wf_sample_range lost_a[] = {{90, 40}, {250, 10}};
    static const wf_sample_range lost_b[] = {{120, 30}};
    wfi_validity a = validity_of(lost_a, 2, 3, 100);
    wfi_validity b = validity_of(lost_b, 1, 3, 100);
    wfi_validity whole = validity_of(NULL, 0, 3, 100);
    assert_false(a.whole);
    wf_check_near("a", wfi_validity_common(&a, &whole), 2.5, 1e-15, "segments");
    wf_check_near("b", wfi_validity_common(&whole, &b), 2.7, 1e-15, "segments");
    wf_check_near("a and b", wfi_validity_common(&a, &b), 2.3, 1e-14, "segments");
    wf_check_near("a and a", wfi_validity_common(&a, &a), 2.5, 1e-14, "segments");
    wfi_validity_destroy(&a);
    wfi_validity_destroy(&b);
    wfi_validity_destroy(&whole);
}

static void validity_compares_streams_of_other_rates(void **state)
{
    (void)state;
    static const wf_sample_range lost_a[] = {{0, 50}};
    static const wf_sample_range lost_b[] = {{25, 50}}; /* of 200 a segment: 0.125 to 0.375 */
    wfi_validity a = validity_of(lost_a, 1, 1, 100);
    wfi_validity b = validity_of(lost_b, 1, 1, 200);
    wf_check_near("common", wfi_validity_common(&a, &b), 0.5, 1e-15, "segments");
    wfi_validity_destroy(&a);
    wfi_validity_destroy(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(validity_of_whole_segments_counts_them),
        cmocka_unit_test(validity_in_common_is_exact),
        cmocka_unit_test(validity_compares_streams_of_other_rates),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
