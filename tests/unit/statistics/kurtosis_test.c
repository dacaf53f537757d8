/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "statistics/kurtosis.h"
#include "statistics/normal.h"
#include "unit/statistics/invented.h"

/* Source: Nita and Gary 2010, MNRAS 406, L60, eq. 9 for N = 1, d = 1:
 * 4 M^2/((M - 1)(M + 2)(M + 3)), about 4/M; and 24/M for d = 1/2 is 6/M... the limits of the same
 * equation, 2 (1 + d)/(d M). */
static void variance_is_that_of_the_source(void **state)
{
    (void)state;
    const double m = 6104;
    wf_check_near("d = 1", wfi_kurtosis_moments_of(m, 1).variance,
                  4 * m * m / ((m - 1) * (m + 2) * (m + 3)), 1e-15, "");
    wf_check_near("limit", 1e7 * wfi_kurtosis_moments_of(1e7, 1).variance, 4, 1e-5, "");
    wf_check_near("limit", 1e7 * wfi_kurtosis_moments_of(1e7, 0.5).variance, 6, 1e-5, "");
}

typedef struct trial_sums {
    double mean;
    double variance;
    double third;
    double n_low;
    double n_high;
} trial_sums;

/* Powers as gamma variables: shape 1 from one exponential, shape 1/2 from one normal. */
static double power_of(double d, uint64_t *random)
{
    const double x = next_normal(random);
    return d < 1 ? x * x : -log(next_uniform(random));
}

static trial_sums try_often(int n_trials, int m, double d, double low, double high)
{
    trial_sums t = {0};
    uint64_t random = 1;
    for (int i = 0; i < n_trials; i++) {
        double sum = 0;
        double squares = 0;
        for (int k = 0; k < m; k++) {
            const double p = power_of(d, &random);
            sum += p;
            squares += p * p;
        }
        const double sk = wfi_kurtosis(m, d, sum, squares);
        t.mean += sk / n_trials;
        t.variance += (sk - 1) * (sk - 1) / n_trials;
        t.third += (sk - 1) * (sk - 1) * (sk - 1) / n_trials;
        t.n_low += sk < low;
        t.n_high += sk > high;
    }
    return t;
}

/* Limits: five sigma of the mean and of the variance over 40000 trials (kurtosis of the estimator
 * itself below 8); third moment to 20 %. Tails at two sigma, 910 expected of each: the upper
 * within five sigma, the lower not more often than that. */
static void noise_scatters_as_predicted(void **state)
{
    (void)state;
    const int n = 40000;
    const double expected = n * wfi_normal_above(2);
    for (double d = 1; d > 0.4; d -= 0.5) {
        const int m = 200;
        double low = 0;
        double high = 0;
        wfi_kurtosis_bounds(m, d, 2, &low, &high);
        const trial_sums t = try_often(n, m, d, low, high);
        const wfi_kurtosis_moments k = wfi_kurtosis_moments_of(m, d);
        wf_check_near("mean", t.mean, 1, 5 * sqrt(k.variance / n), "");
        wf_check_near("variance", t.variance / k.variance, 1, 5 * sqrt(7.0 / n), "");
        wf_check_near("third", t.third / k.third, 1, 0.2, "");
        wf_check_near("above", t.n_high, expected, 5 * sqrt(expected) + 0.05 * expected, "");
        assert_true(t.n_low < expected + 5 * sqrt(expected));
        assert_true(t.n_low > 0.5 * expected);
    }
}

static void few_powers_have_no_lower_bound(void **state)
{
    (void)state;
    double low = 1;
    double high = 0;
    wfi_kurtosis_bounds(10, 1, 3, &low, &high);
    assert_true(low == 0 && high > 2);
    assert_true(wfi_kurtosis(10, 1, 0, 0) == 1);
    assert_true(wfi_kurtosis(1, 1, 2, 4) == 1);
}

/* Source: a steady power has S2 M = S1^2, kurtosis 0; power in one of M samples only has M. */
static void steady_and_single_powers_have_the_extremes(void **state)
{
    (void)state;
    wf_check_near("steady", wfi_kurtosis(100, 1, 100, 100), 0, 1e-15, "");
    wf_check_near("single", wfi_kurtosis(100, 1, 3, 9), 101, 1e-12, "");
}

/* 1-bit samples and a transform of 64 of them, straight from the definition: 1 - 2/64. */
static void coarse_samples_lower_the_expectation(void **state)
{
    (void)state;
    enum { N_FFT = 64, M = 200000, BIN = 9 };
    uint64_t random = 5;
    double sum = 0;
    double squares = 0;
    for (int i = 0; i < M; i++) {
        double re = 0;
        double im = 0;
        for (int k = 0; k < N_FFT; k++) {
            const double x = next_uniform(&random) < 0.5 ? -1 : 1;
            re += x * cos(6.283185307179586 * BIN * k / N_FFT);
            im += x * sin(6.283185307179586 * BIN * k / N_FFT);
        }
        sum += re * re + im * im;
        squares += (re * re + im * im) * (re * re + im * im);
    }
    const double want = wfi_kurtosis_of_quantised(-2, N_FFT, 1);
    wf_check_near("closed form", want, 1 - 2.0 / 64, 1e-15, "");
    wf_check_near("kurtosis", wfi_kurtosis(M, 1, sum, squares), want, 5 * 2 / sqrt(M), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(variance_is_that_of_the_source),
        cmocka_unit_test(noise_scatters_as_predicted),
        cmocka_unit_test(few_powers_have_no_lower_bound),
        cmocka_unit_test(steady_and_single_powers_have_the_extremes),
        cmocka_unit_test(coarse_samples_lower_the_expectation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
