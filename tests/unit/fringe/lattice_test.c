/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fourier sums on lattices, and how often noise makes a fringe. */
#include "support/check.h"

#include "fringe/chirp.h"
#include "fringe/significance.h"
#include "invented.h"

/* Against the sum written out, in double precision: plain transforms (step a reciprocal that a
 * transform likes, cyclic up to one point more than its length), chirps, lone values. Single
 * precision keeps 1e-6 of the norm. */
static void lattice_is_the_sum_written_out(void **state)
{
    (void)state;
    static const struct {
        size_t n_in, n_out;
        double first, step;
    } cases[] = {{24, 49, -0.5, 1.0 / 48},   {24, 20, 0.123, 1.0 / 48}, {24, 31, -0.2, 0.0137},
                 {7, 100, 12345.678, 0.003}, {64, 2, 0.1, 0.25},        {1, 5, 0.3, 0.1},
                 {40, 1, 0.321, 0},          {13, 27, -0.5, 1.0 / 26}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const size_t n_in = cases[i].n_in;
        float complex in[64];
        float complex out[100];
        double norm = 0;
        for (size_t n = 0; n < n_in; n++) {
            in[n] = (float complex)CMPLX(invented_uniform(i, 2 * n) - 0.5,
                                         invented_uniform(i, 2 * n + 1) - 0.5);
            norm += (double)cabsf(in[n]);
        }
        wfi_chirp *chirp = NULL;
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(
            wfi_chirp_create(&chirp, n_in, cases[i].n_out, cases[i].first, cases[i].step, &err),
            &err);
        wfi_chirp_execute(chirp, in, out);
        for (size_t m = 0; m < cases[i].n_out; m++) {
            double complex sum = 0;
            for (size_t n = 0; n < n_in; n++) {
                const double turns = ((double)n - 0.5 * (double)(n_in - 1)) *
                                     (cases[i].first + (double)m * cases[i].step);
                sum += in[n] * cexp(2 * INVENTED_PI * I * fmod(turns, 1.0));
            }
            wf_check_near("sum", cabs(out[m] - sum), 0, 1e-6 * norm, "");
        }
        wfi_chirp_destroy(chirp);
    }
}

/* A point: exp(-x^2/2) of Rayleigh's distribution; chi-squared of 2 n degrees from
 * scipy.stats.chi2.sf (1.10.1); t-like with estimated noise: scipy.stats.f.sf(x^2/2, 2, f). */
static void point_has_the_distribution_of_scipy(void **state)
{
    (void)state;
    const wfi_searched point = {0};
    wf_check_near("rayleigh", wfi_false_alarm(25, 1, &point), 3.726653172078671e-06, 1e-15, "");
    wf_check_near("chi-squared of 8", wfi_false_alarm(25, 4, &point), 0.001554557843011069, 1e-12,
                  "");
    wf_check_near("chi-squared of 64", wfi_false_alarm(100, 32, &point), 0.002686282894655018,
                  1e-11, "");
    const wfi_searched estimated = {.freedom = 30};
    wf_check_near("estimated noise", wfi_false_alarm(25, 1, &estimated), 0.0001125585470402571,
                  1e-12, "");
}

/* The crossings of a level by the modulus of noise along a line: Rice 1944, Bell Syst. Tech. J. 23,
 * 282: slope sigma / sqrt(2 pi) times the density of Rayleigh's distribution. Over a cyclic line
 * they are all there is; over an open one an end may be above. */
static void line_has_the_crossings_of_rice(void **state)
{
    (void)state;
    const double x = 6;
    const double crossings = 10 / sqrt(2 * INVENTED_PI) * x * exp(-x * x / 2);
    const wfi_searched cyclic = {.width = {10, 0}, .is_cyclic = {1, 0}};
    wf_check_near("cyclic", wfi_false_alarm(x * x, 1, &cyclic), -expm1(-crossings), 1e-18, "");
    const wfi_searched open = {.width = {10, 0}};
    wf_check_near("open", wfi_false_alarm(x * x, 1, &open),
                  1 - exp(-crossings) * (1 - exp(-x * x / 2)), 1e-15, "");
}

/* Never rises with the power (but for rounding), from 1 to 0, in windows from a point to a million
 * cells. */
static void probability_falls_with_power(void **state)
{
    (void)state;
    for (size_t n = 1; n < 40; n += 13) {
        for (double width = 0; width < 1e4; width = 10 * width + 0.1) {
            const wfi_searched searched = {.width = {width, width / 2}, .correlation = 0.3};
            double last = wfi_false_alarm(0, n, &searched);
            assert_true(last == 1);
            for (double power = 0.01; power < 1000; power *= 1.1) {
                const double p = wfi_false_alarm(power, n, &searched);
                assert_true(p >= 0 && p <= last + 1e-14);
                last = p;
            }
            assert_true(last < 1e-100);
        }
    }
    const wfi_searched searched = {.width = {1, 1}};
    assert_true(wfi_false_alarm(INFINITY, 1, &searched) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lattice_is_the_sum_written_out),
        cmocka_unit_test(point_has_the_distribution_of_scipy),
        cmocka_unit_test(line_has_the_crossings_of_rice),
        cmocka_unit_test(probability_falls_with_power),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
