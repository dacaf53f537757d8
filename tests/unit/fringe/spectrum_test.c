/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/memory.h"
#include "invented.h"

/* A fringe's spectrum in closed form once its rate is out: phase - 2 pi (nu - middle) delay. */
static void spectrum_of_a_fringe_is_its_delay(void **state)
{
    (void)state;
    invented fringe = invented_create(21, 16);
    invented_add_fringe(&fringe, 2.0e-6, 4.0e-11, 0.25, 0.7);
    fringe.weight[4] = 0;
    fringe.visibility[4 * 16 + 3] = CMPLXF(NAN, NAN);
    fringe.weight[9] = 0.5;
    double complex mean[16];
    wf_fringe_spectrum(mean, &fringe.input, 4.0e-11);
    for (size_t c = 0; c < 16; c++) {
        const double turns = ((double)c - 7.5) * 62.5e3 * 2.0e-6;
        const double complex want = 0.25 * cexp(I * (0.7 - 2 * INVENTED_PI * turns));
        /* floats of 0.25: 1.5e-8 each, and the phase of 8.4 GHz * 2e-10 s in doubles */
        wf_check_near("spectrum", cabs(mean[c] - want), 0, 5e-8, "");
    }
    invented_destroy(&fringe);
}

static void spectrum_of_nothing_is_zero(void **state)
{
    (void)state;
    invented fringe = invented_create(2, 3);
    fringe.weight[0] = fringe.weight[1] = 0;
    double complex mean[3] = {1, 2, 3};
    wf_fringe_spectrum(mean, &fringe.input, 1e-11);
    for (size_t c = 0; c < 3; c++)
        assert_true(mean[c] == 0);
    invented_destroy(&fringe);
}

/* Against the sum written out, at delays and rates on no grid. */
static void evaluation_is_the_sum_written_out(void **state)
{
    (void)state;
    invented in = invented_create(7, 9);
    invented_add_noise(&in, 1.0, 8);
    in.weight[2] = 0.25;
    static const double delays[] = {-3.1e-6, 0, 1.234e-6};
    static const double rates[] = {-7e-11, 2.2e-11};
    double amplitude[6];
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_evaluate(amplitude, &in.input, delays, 3, rates, 2, &err), &err);
    for (size_t m = 0; m < 2; m++) {
        for (size_t k = 0; k < 3; k++) {
            double complex sum = 0;
            for (size_t t = 0; t < 7; t++) {
                for (size_t c = 0; c < 9; c++) {
                    const double nu = 8.4e9 + (double)c * 62.5e3;
                    const double turns =
                        (double)c * 62.5e3 * delays[k] + nu * rates[m] * ((double)t - 3) * 0.5;
                    sum +=
                        in.weight[t] * in.visibility[t * 9 + c] * cexp(2 * INVENTED_PI * I * turns);
                }
            }
            /* weights add up to 6.25; doubles, phases up to 1 turn */
            wf_check_near("amplitude", amplitude[m * 3 + k], cabs(sum) / (6.25 * 9), 1e-13, "");
        }
    }
    invented_destroy(&in);
}

/* The found peak is the highest of the close view around it. */
static void evaluation_is_highest_at_the_peak(void **state)
{
    (void)state;
    invented in = invented_create(16, 32);
    invented_add_fringe(&in, 1.7e-6, -2.3e-11, 0.1, 2.0);
    invented_add_noise(&in, 0.1, 21);
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(NULL, &peak, &in.input, &err), &err);
    double delays[21], rates[21], amplitude[21 * 21];
    for (int i = 0; i < 21; i++) {
        delays[i] = peak.delay_s + (i - 10) * 0.02 / (32 * 62.5e3);
        rates[i] = peak.rate_s_per_s + (i - 10) * 0.02 / (8.0 * 8.4e9);
    }
    wf_check_ok(wf_fringe_evaluate(amplitude, &in.input, delays, 21, rates, 21, &err), &err);
    wf_check_near("peak", amplitude[10 * 21 + 10], peak.amplitude, 1e-12, "");
    for (size_t i = 0; i < 21 * 21; i++)
        assert_true(amplitude[i] <= amplitude[10 * 21 + 10]);
    invented_destroy(&in);
}

static void evaluation_reports_short_memory(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    invented in = invented_create(2, 2);
    double amplitude = 0;
    const double zero = 0;
    wf_error err = WF_ERROR_INIT;
    wfi_memory_fail_after(1);
    const wf_status status = wf_fringe_evaluate(&amplitude, &in.input, &zero, 1, &zero, 1, &err);
    wfi_memory_fail_after(0);
    wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    invented_destroy(&in);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(spectrum_of_a_fringe_is_its_delay),
        cmocka_unit_test(spectrum_of_nothing_is_zero),
        cmocka_unit_test(evaluation_is_the_sum_written_out),
        cmocka_unit_test(evaluation_is_highest_at_the_peak),
        cmocka_unit_test(evaluation_reports_short_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
