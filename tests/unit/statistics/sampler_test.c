/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "statistics/sampler.h"

/* Source: Max 1960, IRE Trans. IT-6, 7, four levels, thresholds at 0.9816 sigma: outer states
 * Q(0.98159) = 0.16315; 16 levels 0.335201 sigma apart (Thompson, Emerson, Schwab 2007): the two
 * middle ones Phi(0.335201) - 1/2 = 0.131263 each. Values of Q by scipy 1.10. */
static void optimum_has_the_published_thresholds(void **state)
{
    (void)state;
    double fraction[WF_SAMPLER_STATES_MAX];
    assert_true(wf_sampler_optimum(2, fraction));
    wf_check_near("outer", fraction[0], 0.163150, 1e-5, "");
    wf_check_near("inner", fraction[1], 0.336850, 1e-5, "");
    wf_check_near("symmetry", fraction[3], fraction[0], 1e-15, "");
    assert_true(wf_sampler_optimum(1, fraction));
    wf_check_near("half", fraction[0], 0.5, 1e-12, "");
    assert_true(wf_sampler_optimum(4, fraction));
    wf_check_near("middle", fraction[8], 0.131263, 1e-6, "");
    double sum = 0;
    for (size_t k = 0; k < 16; k++)
        sum += fraction[k];
    wf_check_near("sum", sum, 1, 1e-14, "");
    assert_false(wf_sampler_optimum(9, fraction));
    assert_false(wf_sampler_optimum(0, fraction));
}

static wf_sampler_statistics judged(const uint64_t *n_states)
{
    wf_error err = WF_ERROR_INIT;
    wfi_decoder d;
    wfi_sampler_counts counts = {0};
    wf_sampler_statistics out;
    const wf_sample_format format = {
        .encoding = WF_ENCODING_OFFSET_BINARY, .bits = 2, .n_channels = 1};
    wf_check_ok(wfi_decoder_init(&d, format, &err), &err);
    memcpy(counts.state, n_states, 4 * sizeof *n_states);
    wfi_sampler_judge(&out, &d, &counts);
    return out;
}

/* Source: Q(1.2 - 0.2), ... of noise of mean 0.2 sigma and thresholds at 1.2 sigma, by scipy 1.10:
 * Phi(-1.4) = 0.080757, Phi(-0.2) = 0.420740, Phi(1.0) = 0.841345. Rounded to 1e-6: 1e-5 sigma. */
static void thresholds_and_offset_follow_from_counts(void **state)
{
    (void)state;
    const uint64_t counts[4] = {80757, 420740 - 80757, 841345 - 420740, 1000000 - 841345};
    const wf_sampler_statistics s = judged(counts);
    wf_check_near("threshold", 1 / s.sigma_steps, 1.2, 1e-5, "sigma");
    wf_check_near("offset", s.offset_sigma, 0.2, 1e-5, "sigma");
    assert_int_equal(s.verdict, WF_SAMPLER_OFFSET);
}

static void verdicts_name_what_is_wrong(void **state)
{
    (void)state;
    static const struct {
        uint64_t counts[4];
        wf_sampler_verdict want;
    } cases[] = {
        {{0, 0, 0, 0}, WF_SAMPLER_NO_DATA},
        {{10, 20, 20, 10}, WF_SAMPLER_NO_DATA},
        {{0, 0, 1000, 0}, WF_SAMPLER_STUCK},
        {{5000, 0, 0, 5000}, WF_SAMPLER_STUCK},
        {{5000, 0, 5000, 0}, WF_SAMPLER_STUCK},
        {{0, 0, 6737, 3263}, WF_SAMPLER_ONE_SIDED},
        {{6737, 3263, 0, 0}, WF_SAMPLER_ONE_SIDED},
        {{163150, 336850, 336850, 163150}, WF_SAMPLER_HEALTHY},
        {{300000, 200000, 200000, 300000}, WF_SAMPLER_STRONG},
        {{60000, 440000, 440000, 60000}, WF_SAMPLER_WEAK},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const wf_sampler_statistics s = judged(cases[i].counts);
        if (s.verdict != cases[i].want)
            fail_msg("case %zu: %s, want %s", i, wf_sampler_verdict_text(s.verdict),
                     wf_sampler_verdict_text(cases[i].want));
    }
}

/* Three bits in the middle of codes of four: 4 to 11, the levels -3.5 to 3.5. */
static void states_of_narrower_samplers_begin_with_their_own(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_decoder d;
    wfi_sampler_counts counts = {.state = {[4] = 100, [7] = 400, [8] = 300, [11] = 200}};
    wf_sampler_statistics out;
    const wf_sample_format format = {
        .encoding = WF_ENCODING_OFFSET_BINARY, .bits = 4, .sampler_bits = 3, .n_channels = 1};
    wf_check_ok(wfi_decoder_init(&d, format, &err), &err);
    wfi_sampler_judge(&out, &d, &counts);
    assert_int_equal(out.n_states, 8);
    wf_check_near("lowest", out.state_fraction[0], 0.1, 1e-15, "");
    wf_check_near("highest", out.state_fraction[7], 0.2, 1e-15, "");
    wf_check_near("extremes", out.extreme_fraction, 0.3, 1e-15, "");
    wf_check_near("level", out.lowest, -3.5, 0, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(optimum_has_the_published_thresholds),
        cmocka_unit_test(thresholds_and_offset_follow_from_counts),
        cmocka_unit_test(verdicts_name_what_is_wrong),
        cmocka_unit_test(states_of_narrower_samplers_begin_with_their_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
