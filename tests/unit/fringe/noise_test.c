/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fringes in noise: signal-to-noise ratio and errors against theory, with fixed seeds. */
#include "support/check.h"

#include "invented.h"

enum { N_TIMES = 16, N_CHANNELS = 64, N_TRIALS = 400 };

static wf_fringe_peak found(const invented *fringe)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_peak peak;
    wf_check_ok(wf_fringe_transform(NULL, &peak, &fringe->input, &err), &err);
    return peak;
}

/* Expected number of maxima of the modulus of a cyclic Gaussian field of n cells above x sigma,
 * from its Euler characteristic: n (pi/6) (x^2 - 1) exp(-x^2/2) (Worsley 1994, Adv. Appl. Prob. 26,
 * 13, formula from memory; slopes' variance pi^2/3 a cell). The noise is a median of n powers, with
 * a variance of 1/n / (ln 2)^2 of itself, as chi-squared with f = 2 (ln 2)^2 n degrees: exp(-x^2/2)
 * becomes (1 + x^2/f)^(-f/2). Mean of the largest: integral of P. */
static double probability_above(double x)
{
    const double n = N_TIMES * N_CHANNELS;
    const double f = 2 * log(2) * log(2) * n;
    const double u = f * log1p(x * x / f);
    const double slopes = (1 - 1.0 / (N_TIMES * N_TIMES)) * (1 - 1.0 / (N_CHANNELS * N_CHANNELS));
    return 1 - exp(-n * INVENTED_PI / 6 * sqrt(slopes) * (u - 1) * exp(-0.5 * u));
}

static double expected_largest(void)
{
    const double step = 1e-3;
    double mean = 2;
    for (double x = 2; x < 10; x += step)
        mean += step * probability_above(x + step / 2);
    return mean;
}

/* Scatter of one trial: 1.28 / (x - 2 / x) = 0.33, that of its sigma (2 %) 0.1; five sigmas of the
 * mean of 400 are 0.09 (false alarm below 1e-6), of a fraction p 5 sqrt(p (1 - p) / 400). */
static void noise_alone_has_the_largest_of_rayleigh(void **state)
{
    (void)state;
    static const double levels[] = {4.0, 4.4, 4.8, 5.2};
    double mean = 0;
    double above[4] = {0};
    for (int i = 0; i < N_TRIALS; i++) {
        invented noise = invented_create(N_TIMES, N_CHANNELS);
        invented_add_noise(&noise, 0.3, 1000 + (uint64_t)i);
        const wf_fringe_peak peak = found(&noise);
        mean += peak.snr / N_TRIALS;
        for (size_t k = 0; k < 4; k++)
            above[k] += (peak.snr > levels[k]) / (double)N_TRIALS;
        wf_check_near("false alarm", peak.false_alarm, probability_above(peak.snr), 0.01, "");
        invented_destroy(&noise);
    }
    wf_check_near("mean snr of noise", mean, expected_largest(), 0.09, "sigma");
    for (size_t k = 0; k < 4; k++) {
        const double p = probability_above(levels[k]);
        wf_check_near("fraction above", above[k], p, 5 * sqrt(p * (1 - p) / N_TRIALS), "");
    }
}

typedef struct scatter {
    double sum;
    double square;
} scatter;

static void note(scatter *s, double pull)
{
    s->sum += pull / N_TRIALS;
    s->square += pull * pull / N_TRIALS;
}

/* Pulls (found - true) / error are normal: over 400 trials their mean is within 5 / sqrt(400) and
 * their mean square within 5 * sqrt(2 / 400) = 0.354 of 1; each false alarm below 1e-6. The errors
 * are themselves known to 2 %, and hold to first order in 1 / snr = 1/30. */
static void check_pulls(const char *name, const scatter *s)
{
    wf_check_near(name, s->sum, 0, 5.0 / sqrt(N_TRIALS), "mean pull");
    wf_check_near(name, s->square, 1, 5.0 * sqrt(2.0 / N_TRIALS), "mean square pull");
}

static void errors_are_the_scatter_of_the_results(void **state)
{
    (void)state;
    const double delay_s = 0.4321e-6;
    const double rate = -1.7e-11;
    const double amplitude = 0.05;
    const double sigma = amplitude * sqrt((double)N_TIMES * N_CHANNELS) / 30;
    scatter delays = {0}, rates = {0}, amplitudes = {0}, phases = {0}, snrs = {0};
    for (int i = 0; i < N_TRIALS; i++) {
        invented fringe = invented_create(N_TIMES, N_CHANNELS);
        invented_add_fringe(&fringe, delay_s, rate, amplitude, 2.0);
        invented_add_noise(&fringe, sigma, 50000 + (uint64_t)i);
        const wf_fringe_peak peak = found(&fringe);
        note(&delays, (peak.delay_s - delay_s) / peak.delay_error_s);
        note(&rates, (peak.rate_s_per_s - rate) / peak.rate_error_s_per_s);
        note(&amplitudes, (peak.amplitude - amplitude) / (peak.amplitude / peak.snr));
        note(&phases, (peak.phase_rad - 2.0) * peak.snr);
        note(&snrs, peak.snr / 30);
        invented_destroy(&fringe);
    }
    check_pulls("delay", &delays);
    check_pulls("rate", &rates);
    check_pulls("amplitude", &amplitudes);
    check_pulls("phase", &phases);
    /* each 1/30 of its own noise and 2.3 % of the sigma's: 4 % a trial, 0.2 % of the mean; 5 such,
     * and 1/(2 * 900) from amplitude bias of the fit */
    wf_check_near("mean snr / 30", snrs.sum, 1, 0.011, "");
}

/* The noise is that of the data, not of the fringe: a strong fringe, or a slope of the band, keeps
 * the estimate. 5 times 0.72 / sqrt(1024) = 0.11. */
static void strong_fringes_do_not_raise_the_noise(void **state)
{
    (void)state;
    const double sigma = 0.001;
    invented fringe = invented_create(N_TIMES, N_CHANNELS);
    invented_add_fringe(&fringe, 0.3e-6, 1.1e-11, 0.8, 0.5);
    invented_add_noise(&fringe, sigma, 99);
    const double want = 0.8 / (sigma / sqrt((double)N_TIMES * N_CHANNELS));
    wf_check_near("snr", found(&fringe).snr / want, 1, 0.12, "of theory");
    for (size_t t = 0; t < N_TIMES; t++) {
        for (size_t c = 0; c < N_CHANNELS; c++)
            fringe.visibility[t * N_CHANNELS + c] *= (float)(0.5 + (double)c / N_CHANNELS);
    }
    wf_check_near("snr with a sloping band", found(&fringe).snr / want, 1, 0.2, "of theory");
    invented_destroy(&fringe);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_alone_has_the_largest_of_rayleigh),
        cmocka_unit_test(errors_are_the_scatter_of_the_results),
        cmocka_unit_test(strong_fringes_do_not_raise_the_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
