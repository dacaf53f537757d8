/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Coherence against closed forms, with fixed seeds. */
#include "support/check.h"

#include "power_law.h"

static wf_coherence *measured(const wf_fringe_series *series)
{
    wf_error err = WF_ERROR_INIT;
    wf_coherence *coherence = NULL;
    wf_check_ok(wf_coherence_measure(&coherence, series, &err), &err);
    return coherence;
}

static void a_steady_phase_is_coherent_throughout(void **state)
{
    (void)state;
    double phase[100];
    for (size_t t = 0; t < 100; t++)
        phase[t] = 0.5;
    invented_series in = invented_series_create(phase, 100, 0, 1);
    in.sigma[3] = in.sigma[50] = INFINITY;
    in.fringe[50] = NAN;
    wf_coherence *c = measured(&in.series);
    wf_check_near("first time", c->points[0].time_s, 1, 0, "s");
    wf_check_near("last time", c->points[c->n_points - 1].time_s, 100, 0, "s");
    assert_int_equal(c->points[c->n_points - 1].n_segments, 1);
    for (size_t i = 0; i < c->n_points; i++) {
        wf_check_near("coherence", c->points[i].coherence, 1, 1e-12, "");
        assert_true(i == 0 || c->points[i].time_s > c->points[i - 1].time_s);
    }
    assert_true(isinf(wf_coherence_time_s(c, 0.9)));
    wf_coherence_destroy(c);
    invented_series_destroy(&in);
}

/* A steady rate r averages to sinc(n r) / sinc(r) of n phasors: Dirichlet's kernel. Every segment
 * has the same modulus. Half coherence: where sin(pi n r) = 0.5 n sin(pi r). */
static void a_rate_left_in_gives_the_kernel_of_dirichlet(void **state)
{
    (void)state;
    const double rate = 0.01; /* turns an integration */
    double phase[64];
    for (size_t t = 0; t < 64; t++)
        phase[t] = 2 * INVENTED_PI * rate * (double)t;
    invented_series in = invented_series_create(phase, 64, 0, 1);
    wf_coherence *c = measured(&in.series);
    for (size_t i = 0; i < c->n_points; i++) {
        const double n = c->points[i].time_s;
        const double want = sin(INVENTED_PI * n * rate) / (n * sin(INVENTED_PI * rate));
        wf_check_near("coherence", c->points[i].coherence, want, 1e-12, "");
    }
    /* sinc(0.6034) = 0.5; between points 4 an octave (19 %) interpolation errs below 1 % */
    wf_check_near("time of half coherence", wf_coherence_time_s(c, 0.5), 60.34, 0.6, "s");
    wf_coherence_destroy(c);
    invented_series_destroy(&in);
}

/* Random walk of phase, variance q an integration, in noise of snr 2: <C^2(n)> = 1/n + 2/n sum
 * (1 - k/n) exp(-q k / 2), for many integrations 2 (e^-a + a - 1) / a^2, a = q n / 2. Over 200
 * stretches of 256 the mean of C^2 is within 5 standard errors, measured from the scatter itself
 * (200 draws: known to 5 %; false alarm below 1e-6 a point). */
static void white_frequency_noise_has_the_closed_form(void **state)
{
    (void)state;
    enum { N = 256, N_DRAWS = 200, POINTS_MAX = 40 };
    const double q = 0.02;
    double mean[POINTS_MAX] = {0}, square[POINTS_MAX] = {0}, time_s[POINTS_MAX] = {0};
    double amplitude = 0;
    size_t n_points = 0;
    for (uint64_t draw = 0; draw < N_DRAWS; draw++) {
        double phase[N];
        phase[0] = 1;
        for (size_t t = 1; t < N; t++)
            phase[t] = phase[t - 1] + sqrt(q) * power_law_normal(900 + draw, t);
        invented_series in = invented_series_create(phase, N, 0.5, 5000 + draw);
        wf_coherence *c = measured(&in.series);
        n_points = c->n_points;
        assert_true(n_points <= POINTS_MAX);
        amplitude += c->amplitude / N_DRAWS;
        for (size_t i = 0; i < n_points; i++) {
            /* so that A, common to all points, does not bias the ratio's mean */
            const double value = c->points[i].squared * c->amplitude * c->amplitude;
            mean[i] += value / N_DRAWS;
            square[i] += value * value / N_DRAWS;
            time_s[i] = c->points[i].time_s;
        }
        wf_coherence_destroy(c);
        invented_series_destroy(&in);
    }
    /* each A to 0.5/sqrt(256) = 0.031 */
    wf_check_near("amplitude", amplitude, 1, 5 * 0.035 / sqrt(N_DRAWS), "");
    for (size_t i = 1; i < n_points; i++) {
        const double n = time_s[i];
        double want = 1 / n;
        for (double k = 1; k < n; k++)
            want += 2 / n * (1 - k / n) * exp(-0.5 * q * k);
        const double error = sqrt((square[i] - mean[i] * mean[i]) / (N_DRAWS - 1));
        wf_check_near("mean square coherence", mean[i], want, 5 * error, "");
        if (n > 30) { /* the sum is the integral to q^2/24 and 1/n^2 */
            const double sigma_y = sqrt(q) / (2 * INVENTED_PI * 8.4e9);
            const double closed = wf_coherence_white_frequency(n, 8.4e9, sigma_y);
            wf_check_near("closed form", closed * closed, want, 5e-4, "");
        }
    }
}

/* Source: the worked numbers of H-maser grade, sigma_y(1 s) = 1e-13 at 230 GHz, a = 0.0104 T/s:
 * <C^2> 0.9661 at 10 s, 0.7267 at 100 s (numerical integration of Thompson, Moran, Swenson 2017,
 * section 9.5). Half of the last digit. Short times: 1 - a/3. */
static void closed_form_has_the_known_numbers(void **state)
{
    (void)state;
    const double at_10 = wf_coherence_white_frequency(10, 230e9, 1e-13);
    const double at_100 = wf_coherence_white_frequency(100, 230e9, 1e-13);
    wf_check_near("10 s", at_10 * at_10, 0.9661, 0.5e-4, "");
    wf_check_near("100 s", at_100 * at_100, 0.7267, 0.5e-4, "");
    for (double t = 0.0900; t < 0.1; t += 0.001) {
        const double a = 0.5 * pow(2 * INVENTED_PI * 230e9 * 1e-13, 2) * t;
        const double c = wf_coherence_white_frequency(t, 230e9, 1e-13);
        wf_check_near("short", c * c, 1 - a / 3 + a * a / 12 - a * a * a / 60, 1e-9, "");
    }
}

/* Thermal noise alone, at snr 1 an integration: coherence 1, and the scatter of C^2 is the error
 * that is given. 400 draws: the mean within 5 errors, the variance within 5 sqrt(2/400) = 35 %.
 * At snr 1 A^2 is known to 18 %: as a divisor it widens the variance by some 3 * 0.18^2 = 10 %, and
 * shifts the mean by less than 0.15 errors. */
static void noise_is_no_incoherence_and_its_error_is_right(void **state)
{
    (void)state;
    enum { N = 256, N_DRAWS = 400, POINTS_MAX = 40 };
    double phase[N] = {0};
    double mean[POINTS_MAX] = {0}, pull[POINTS_MAX] = {0};
    size_t n_points = 0;
    for (uint64_t draw = 0; draw < N_DRAWS; draw++) {
        invented_series in = invented_series_create(phase, N, 1, 30000 + draw);
        wf_coherence *c = measured(&in.series);
        n_points = c->n_points;
        for (size_t i = 1; i < n_points; i++) {
            const double d = (c->points[i].squared - 1) / c->points[i].squared_error;
            mean[i] += d / N_DRAWS;
            pull[i] += d * d / N_DRAWS;
        }
        wf_coherence_destroy(c);
        invented_series_destroy(&in);
    }
    for (size_t i = 1; i < n_points; i++) {
        wf_check_near("mean pull", mean[i], 0, 5 / sqrt(N_DRAWS) + 0.15, "");
        wf_check_near("mean square pull", pull[i], 1, 0.45, "");
    }
}

/* Random phases: C^2(n) = 1/n and the coherence falls through 0.9 at once; a long stretch's
 * sampling error covers the difference. */
static void random_phases_are_incoherent(void **state)
{
    (void)state;
    enum { N = 512 };
    double phase[N];
    for (size_t t = 0; t < N; t++)
        phase[t] = 2 * INVENTED_PI * invented_uniform(8, t);
    invented_series in = invented_series_create(phase, N, 0.1, 9);
    wf_coherence *c = measured(&in.series);
    for (size_t i = 1; i < c->n_points; i++) {
        const wf_coherence_point *p = &c->points[i];
        /* products of unlike phases in overlapping segments scatter by sqrt(4 / (3 N n)) */
        wf_check_near("mean square", p->squared, 1 / p->time_s,
                      5 * sqrt(4.0 / 3 * p->time_s / N) / p->time_s, "");
        if (p->n_segments < 4)
            assert_true(isinf(p->sampling_error));
    }
    assert_true(wf_coherence_time_s(c, 0.9) > 1);
    assert_true(wf_coherence_time_s(c, 0.9) < 2);
    wf_coherence_destroy(c);
    invented_series_destroy(&in);
}

static void no_fringe_is_refused(void **state)
{
    (void)state;
    double phase[64] = {0};
    invented_series in = invented_series_create(phase, 64, 1, 4);
    for (size_t t = 0; t < 64; t++)
        in.fringe[t] -= 1;
    wf_error err = WF_ERROR_INIT;
    wf_coherence *c = NULL;
    wf_check_refused(wf_coherence_measure(&c, &in.series, &err), WF_RANGE, &err, "average");
    assert_null(c);
    err = (wf_error)WF_ERROR_INIT;
    in.series.n_times = 3;
    wf_check_refused(wf_coherence_measure(&c, &in.series, &err), WF_RANGE, &err, "3");
    err = (wf_error)WF_ERROR_INIT;
    in.series.n_times = 0;
    wf_check_refused(wf_coherence_measure(&c, &in.series, &err), WF_ARGUMENT, &err, "0");
    invented_series_destroy(&in);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_steady_phase_is_coherent_throughout),
        cmocka_unit_test(a_rate_left_in_gives_the_kernel_of_dirichlet),
        cmocka_unit_test(white_frequency_noise_has_the_closed_form),
        cmocka_unit_test(closed_form_has_the_known_numbers),
        cmocka_unit_test(noise_is_no_incoherence_and_its_error_is_right),
        cmocka_unit_test(random_phases_are_incoherent),
        cmocka_unit_test(no_fringe_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
