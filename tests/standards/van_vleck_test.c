/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Quantisation efficiency against published tables.
 *
 * Sources: Thompson, Emerson, Schwab 2007, Radio Science 42, RS3022 (efficiencies at the optimum
 * spacing); Max 1960, IRE Trans. IT-6, 7, and Jenet, Anderson 1998, PASP 110, 1467 (four levels);
 * Thompson, Moran, Swenson 2017, ch. 8. Their figures, printed to three or four digits, stand here
 * to six, as a numerical optimum of eta = E[x q]^2 / E[q^2] gives them.
 *
 * The mean square that a sampler would show is worked out here level by level from the normal
 * distribution, in a way that the library does not use.
 */
#include "support/check.h"

#include <whitefringe/recording.h>

#include "recording/levels.h"
#include "statistics/van_vleck.h"

/* Half the last printed digit of the tables. */
static const double LIMIT = 0.6e-6;

static double below(double x)
{
    return 0.5 * erfc(-x / sqrt(2.0));
}

/* Mean square of levels first, first + 1, ..., first + n - 1, thresholds half-way, noise sigma. */
static double mean_square_of_steps(int n, double first, double sigma)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        const double level = first + i;
        const double low = i == 0 ? 0.0 : below((level - 0.5) / sigma);
        const double high = i == n - 1 ? 1.0 : below((level + 0.5) / sigma);
        sum += level * level * (high - low);
    }
    return sum;
}

static double offset_binary(unsigned bits, double spacing_in_sigma)
{
    const int n = 1 << bits;
    const wf_sample_format format = {WF_ENCODING_OFFSET_BINARY, bits, false, 1};
    return wfi_quantisation_efficiency(
        format, mean_square_of_steps(n, 0.5 * (1 - n), 1.0 / spacing_in_sigma));
}

static void efficiency_of_uniform_steps(void **state)
{
    (void)state;
    wf_check_near("2 levels", offset_binary(1, 1.0), 0.636620, LIMIT, "");
    wf_check_near("8 levels", offset_binary(3, 0.586019), 0.962560, LIMIT, "");
    wf_check_near("16 levels", offset_binary(4, 0.335201), 0.988457, LIMIT, "");
    wf_check_near("32 levels", offset_binary(5, 0.188139), 0.996505, LIMIT, "");
    wf_check_near("64 levels", offset_binary(6, 0.104063), 0.998960, LIMIT, "");
    wf_check_near("128 levels", offset_binary(7, 0.056868), 0.999696, LIMIT, "");
    wf_check_near("256 levels", offset_binary(8, 0.030762), 0.999912, LIMIT, "");
}

static void efficiency_of_eight_bits_off_the_optimum(void **state)
{
    (void)state;
    wf_check_near("sigma 100", offset_binary(8, 0.01), 0.942274, LIMIT, "");
    wf_check_near("sigma 50", offset_binary(8, 0.02), 0.998017, LIMIT, "");
    wf_check_near("sigma 20", offset_binary(8, 0.05), 0.999792, LIMIT, "");
    wf_check_near("sigma 10", offset_binary(8, 0.1), 0.999167, LIMIT, "");
}

static double two_bits(double v0)
{
    const wf_sample_format format = {WF_ENCODING_OFFSET_BINARY, 2, false, 1};
    const double n = WFI_OUTER_LEVEL_2BIT;
    const double outer = 2.0 * below(-v0);
    return wfi_quantisation_efficiency(format, 1.0 - outer + n * n * outer);
}

static void efficiency_of_two_bits(void **state)
{
    (void)state;
    const double v0 = 0.981599;
    wf_check_near("best threshold", two_bits(v0), 0.882518, LIMIT, "");
    /* Threshold off by a factor, relative; five digits printed. */
    static const double off[][2] = {{0.7, 0.97568}, {0.8, 0.98948}, {0.9, 0.99745},
                                    {1.1, 0.99765}, {1.2, 0.99103}, {1.3, 0.98082}};
    for (size_t i = 0; i < sizeof off / sizeof off[0]; i++)
        wf_check_near("threshold off", two_bits(off[i][0] * v0) / 0.882518, off[i][1], 0.6e-5, "");
}

static void efficiency_of_complex_samples_is_that_of_their_components(void **state)
{
    (void)state;
    wf_sample_format format = {WF_ENCODING_OFFSET_BINARY, 3, false, 1};
    const double real = wfi_quantisation_efficiency(format, 2.5);
    format.is_complex = true;
    wf_check_near("complex", wfi_quantisation_efficiency(format, 5.0), real, 1e-12, "");
}

static void efficiency_of_signed_samples(void **state)
{
    (void)state;
    /* Levels at the integers. eta of noise of spread sigma by the definition, E[x q] summed over
     * the levels by the integral of x phi(x): phi(low) - phi(high). */
    static const double sigmas[] = {0.4, 0.7, 1.5, 20.0, 90.0, 300.0};
    const wf_sample_format format = {WF_ENCODING_SIGNED, 8, false, 1};
    for (size_t i = 0; i < sizeof sigmas / sizeof sigmas[0]; i++) {
        const double sigma = sigmas[i];
        double cross = 0;
        for (int level = -127; level <= 127; level++) {
            const double low = level == -127 ? -INFINITY : (level - 0.5) / sigma;
            const double high = level == 127 ? INFINITY : (level + 0.5) / sigma;
            cross += level * (exp(-0.5 * low * low) - exp(-0.5 * high * high)) * 0.3989422804014327;
        }
        const double mean_square = mean_square_of_steps(255, -127, sigma);
        wf_check_near("signed", wfi_quantisation_efficiency(format, mean_square),
                      cross * cross / mean_square, 1e-6, "");
    }
}

static void efficiency_of_fine_samples(void **state)
{
    (void)state;
    const wf_sample_format fine = {WF_ENCODING_SIGNED, 16, false, 1};
    /* Steps far below the noise: a noise of 1/12 (Sheppard). */
    wf_check_near("16 bits", wfi_quantisation_efficiency(fine, 1e6), 1.0 - 1.0 / 12e6, 1e-12, "");
    /* All but at the rails: a clipper at c sigma; E[x q] = erf(c / sqrt 2), E[q^2] = erf(c /
     * sqrt 2) - 2 c phi(c) + c^2 erfc(c / sqrt 2), in sigma. Limit: the promised accuracy. */
    const double c = 1.5;
    const double sigma = 32767.5 / c;
    const double inside = erf(c / sqrt(2.0));
    const double mean_square = inside -
                               2.0 * c * exp(-0.5 * c * c) / sqrt(2.0 * 3.14159265358979324) +
                               c * c * (1 - inside);
    wf_check_near("clipped", wfi_quantisation_efficiency(fine, mean_square * sigma * sigma),
                  inside * inside / mean_square, 1e-4, "");
    const wf_sample_format exact = {WF_ENCODING_FLOAT, 32, false, 1};
    assert_true(wfi_quantisation_efficiency(exact, 0.123) == 1.0);
}

static void check_sane(double eta)
{
    if (!(eta > 0.0 && eta <= 1.0))
        fail_msg("efficiency %g", eta);
}

static void efficiency_stays_sane_for_impossible_power(void **state)
{
    (void)state;
    static const double impossible[] = {0.0, -1.0, 1e-300, 1e300, INFINITY, NAN};
    for (unsigned bits = 1; bits <= 32; bits++) {
        const bool can_be_signed = bits == 8 || bits == 16 || bits == 32;
        for (size_t k = 0; k < sizeof impossible / sizeof impossible[0]; k++) {
            const wf_sample_format offset = {WF_ENCODING_OFFSET_BINARY, bits, false, 1};
            check_sane(wfi_quantisation_efficiency(offset, impossible[k]));
            const wf_sample_format two_s = {WF_ENCODING_SIGNED, bits, false, 1};
            if (can_be_signed)
                check_sane(wfi_quantisation_efficiency(two_s, impossible[k]));
        }
    }
    /* Everything at the innermost or outermost levels is as good as one bit. */
    const wf_sample_format two = {WF_ENCODING_OFFSET_BINARY, 2, false, 1};
    wf_check_near("least", wfi_quantisation_efficiency(two, 0.5), 0.636620, LIMIT, "");
    wf_check_near("most", wfi_quantisation_efficiency(two, 20.0), 0.636620, LIMIT, "");
    const wf_sample_format four = {WF_ENCODING_OFFSET_BINARY, 4, false, 1};
    wf_check_near("least", wfi_quantisation_efficiency(four, 0.2), 0.636620, LIMIT, "");
    wf_check_near("most", wfi_quantisation_efficiency(four, 57.0), 0.636620, 1e-4, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(efficiency_of_uniform_steps),
        cmocka_unit_test(efficiency_of_eight_bits_off_the_optimum),
        cmocka_unit_test(efficiency_of_two_bits),
        cmocka_unit_test(efficiency_of_complex_samples_is_that_of_their_components),
        cmocka_unit_test(efficiency_of_signed_samples),
        cmocka_unit_test(efficiency_of_fine_samples),
        cmocka_unit_test(efficiency_stays_sane_for_impossible_power),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
