/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Station values from baselines, and closures. */
#include "support/check.h"

#include <whitefringe/fringe_fit.h>

#include "invented.h"

enum { MEASURES = 6 };
static const wf_fringe_measure uneven[MEASURES] = {
    {0, 1, 3.1, 0.5, false}, {0, 2, -1.2, 0.2, false},  {1, 2, -4.0, 0.4, false},
    {3, 1, 7.3, 1.0, false}, {2, 3, -2.9, 0.25, false}, {0, 1, 2.8, 0.9, false}};

/* Source: numpy.linalg.lstsq on the rows divided by their errors, and the inverse of A^T A
 * (numpy 1.24.2). Limit: half the last digit taken over. */
static void solution_is_that_of_numpy(void **state)
{
    (void)state;
    static const double value[] = {2.937935873384, 0, 4.118817261193, 7.035357422300};
    static const double error[] = {0.304018646980, 0, 0.294634555429, 0.368402693771};
    static const double residual[] = {0.324128253233, -0.095593060952, 0.297043152983,
                                      0.2646425777,   0.066160644425,  -0.153262081537};
    wf_station_value stations[4];
    double residuals[MEASURES];
    double reduced = 0;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_solve(stations, residuals, &reduced, uneven, MEASURES, 4, 1, &err), &err);
    for (size_t i = 0; i < 4; i++) {
        assert_true(stations[i].solved);
        wf_check_near("value", stations[i].value, value[i], 1e-11, "");
        wf_check_near("error", stations[i].error, error[i], 1e-11, "");
    }
    for (size_t k = 0; k < MEASURES; k++)
        wf_check_near("residual", residuals[k], residual[k], 1e-11, "sigma");
    wf_check_near("reduced chi-squared", reduced, 0.10011132767329, 1e-11, "");
    static const size_t n_used[] = {3, 4, 3, 2};
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(stations[i].n_used, n_used[i]);
}

/* Stations 3 and 4 only see each other; 5 nothing. */
static void stations_apart_from_the_reference_are_not_solved(void **state)
{
    (void)state;
    static const wf_fringe_measure apart[] = {{0, 1, 2e-6, 1e-9, false},
                                              {2, 1, 5e-6, 1e-9, false},
                                              {3, 4, 1e-6, 1e-9, false},
                                              {0, 3, NAN, INFINITY, false}};
    wf_station_value stations[6];
    double residuals[4];
    double reduced = 0;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_solve(stations, residuals, &reduced, apart, 4, 6, 0, &err), &err);
    static const bool solved[] = {true, true, true, false, false, false};
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(stations[i].solved, solved[i]);
    wf_check_near("station 2", stations[2].value, 3e-6, 1e-18, "s");
    wf_check_near("its error", stations[2].error, sqrt(2) * 1e-9, 1e-21, "s");
    assert_true(isnan(residuals[2]) && isnan(reduced));
}

/* Invented clocks of n stations seen by all baselines, noise of one sigma. */
static size_t measure_all(wf_fringe_measure *out, size_t n, double error, uint64_t seed)
{
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
        for (size_t j = i + 1; j < n; j++, k++) {
            const double normal = sqrt(-2 * log(invented_uniform(seed, 2 * k))) *
                                  cos(2 * INVENTED_PI * invented_uniform(seed, 2 * k + 1));
            const double clocks = 1e-6 * ((double)(i * i) - (double)(j * j));
            out[k] = (wf_fringe_measure){i, j, clocks + error * normal, error, false};
        }
    }
    return k;
}

static void one_wrong_measure_is_excluded(void **state)
{
    (void)state;
    wf_fringe_measure measures[6];
    const size_t n = measure_all(measures, 4, 1e-9, 7);
    measures[4].value += 50e-9;
    wf_error err = WF_ERROR_INIT;
    size_t n_excluded = 0;
    wf_check_ok(wf_fringe_exclude_outliers(measures, &n_excluded, n, 4, 0, 5, &err), &err);
    assert_int_equal(n_excluded, 1);
    assert_true(measures[4].excluded);
    wf_station_value stations[4];
    double residuals[6];
    double reduced = 0;
    wf_check_ok(wf_fringe_solve(stations, residuals, &reduced, measures, n, 4, 0, &err), &err);
    for (size_t i = 0; i < 4; i++)
        wf_check_near("clock", stations[i].value, 1e-6 * (double)(i * i), 5 * 1e-9, "s");
    /* the error of its residual is that of a difference of two stations: below sqrt(3) sigma */
    wf_check_near("its residual", residuals[4], 50, 5 * sqrt(3), "sigma");
}

/* Of the three measures of a triangle each may be the wrong one. */
static void lone_triangle_keeps_its_measures(void **state)
{
    (void)state;
    wf_fringe_measure measures[3];
    const size_t n = measure_all(measures, 3, 1e-9, 8);
    measures[1].value += 50e-9;
    wf_error err = WF_ERROR_INIT;
    size_t n_excluded = 9;
    wf_check_ok(wf_fringe_exclude_outliers(measures, &n_excluded, n, 3, 0, 5, &err), &err);
    assert_int_equal(n_excluded, 0);
    wf_station_value stations[3];
    double reduced = 0;
    wf_check_ok(wf_fringe_solve(stations, NULL, &reduced, measures, n, 3, 0, &err), &err);
    assert_true(reduced > 100);
}

/* Pulls of 500 networks of 5 stations: mean square 1 within 5 sqrt(2 / 2000); reduced chi-squared
 * of 6 degrees: mean 1 within 5 sqrt(2 / 3000). */
static void errors_are_the_scatter_of_solutions(void **state)
{
    (void)state;
    enum { N = 5, TRIALS = 500 };
    double square = 0;
    double chi2 = 0;
    for (uint64_t i = 0; i < TRIALS; i++) {
        wf_fringe_measure measures[10];
        const size_t n = measure_all(measures, N, 3e-10, 1000 + i);
        wf_station_value stations[N];
        double reduced = 0;
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(wf_fringe_solve(stations, NULL, &reduced, measures, n, N, 2, &err), &err);
        chi2 += reduced / TRIALS;
        for (size_t k = 0; k < N; k++) {
            const double want = 1e-6 * ((double)(k * k) - 4);
            if (k != 2)
                square += pow((stations[k].value - want) / stations[k].error, 2) / (4.0 * TRIALS);
        }
    }
    wf_check_near("mean square pull", square, 1, 5 * sqrt(2.0 / (4 * TRIALS)), "");
    wf_check_near("reduced chi-squared", chi2, 1, 5 * sqrt(2.0 / (6 * TRIALS)), "");
}

static void closures_forget_the_stations(void **state)
{
    (void)state;
    const double phases[4] = {0.4, 2.9, -1.7, 3.0};
    wf_fringe_measure measures[6];
    size_t n = 0;
    for (size_t i = 0; i < 4; i++) {
        for (size_t j = i + 1; j < 4; j++, n++) {
            /* every other one the other way round, all wrapped, 0-2 with a structure of 0.5 */
            const double phase = phases[i] - phases[j] + (i == 0 && j == 2 ? 0.5 : 0);
            const double turn = 2 * INVENTED_PI;
            const double value = phase - turn * rint(phase / turn);
            measures[n] = n % 2 == 0 ? (wf_fringe_measure){i, j, value, 0.1, false}
                                     : (wf_fringe_measure){j, i, -value, 0.2, false};
        }
    }
    wf_closure closures[WF_CLOSURES_OF(4)];
    size_t n_closures = 0;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_closures(closures, &n_closures, measures, n, 4, 2 * INVENTED_PI, &err),
                &err);
    assert_int_equal(n_closures, 4);
    /* 012, 013, 023, 123; errors of 01 02 03 12 13 23 are 1 2 1 2 1 2 tenths */
    static const double want[][2] = {{-0.5, 3}, {0, 1.7320508075688772}, {0.5, 3}, {0, 3}};
    for (size_t k = 0; k < 4; k++) {
        wf_check_near("closure", closures[k].value, want[k][0], 1e-14, "rad");
        wf_check_near("error", closures[k].error, 0.1 * want[k][1], 1e-14, "rad");
    }
    assert_int_equal(closures[3].i_station, 1);
    assert_int_equal(closures[3].k_station, 3);
    measures[5].excluded = true;
    wf_check_ok(wf_fringe_closures(closures, &n_closures, measures, n, 4, 0, &err), &err);
    assert_int_equal(n_closures, 2);
    measures[1].error = INFINITY;
    wf_check_ok(wf_fringe_closures(closures, &n_closures, measures, n, 4, 0, &err), &err);
    assert_int_equal(n_closures, 1);
}

static void what_is_no_measure_is_refused(void **state)
{
    (void)state;
    static const struct {
        wf_fringe_measure measure;
        const char *text;
    } cases[] = {{{0, 4, 1, 1, false}, "stations 0 and 4"},
                 {{2, 2, 1, 1, false}, "stations 2 and 2"},
                 {{0, 1, 1, 0, false}, "error of 0"},
                 {{0, 1, NAN, 1, false}, "infinite for what was not measured"}};
    wf_station_value stations[4];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_check_refused(wf_fringe_solve(stations, NULL, NULL, &cases[i].measure, 1, 4, 0, &err),
                         WF_ARGUMENT, &err, cases[i].text);
    }
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_fringe_solve(stations, NULL, NULL, NULL, 0, 4, 4, &err), WF_ARGUMENT, &err,
                     "station 4");
    const wf_fringe_measure twice[] = {{0, 1, 1, 1, false}, {1, 0, 1, 1, false}};
    wf_closure closures[WF_CLOSURES_OF(3)];
    size_t n = 0;
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_fringe_closures(closures, &n, twice, 2, 3, 0, &err), WF_ARGUMENT, &err,
                     "second one");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(solution_is_that_of_numpy),
        cmocka_unit_test(stations_apart_from_the_reference_are_not_solved),
        cmocka_unit_test(one_wrong_measure_is_excluded),
        cmocka_unit_test(lone_triangle_keeps_its_measures),
        cmocka_unit_test(errors_are_the_scatter_of_solutions),
        cmocka_unit_test(closures_forget_the_stations),
        cmocka_unit_test(what_is_no_measure_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
