/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Allan deviations of stations from those of baselines. */
#include "support/check.h"

#include "power_law.h"

enum { N_STATIONS = 4, N_PAIRS = 6 };

typedef struct baselines {
    wf_allan_baseline of[N_PAIRS];
    wf_allan allan[N_PAIRS];
    wf_allan_point point[N_PAIRS];
} baselines;

/* Exact sums of squares; a thermal part on top of them. */
static void fill(baselines *b, const double *station)
{
    size_t k = 0;
    for (size_t i = 0; i < N_STATIONS; i++) {
        for (size_t j = i + 1; j < N_STATIONS; j++, k++) {
            const double variance = station[i] * station[i] + station[j] * station[j];
            const double thermal = 1e-14 * (double)(k + 1);
            b->point[k] = (wf_allan_point){.tau_s = 4,
                                           .deviation = sqrt(variance + thermal * thermal),
                                           .thermal = thermal,
                                           .edf = 20};
            b->allan[k] = (wf_allan){1, &b->point[k]};
            b->of[k] = (wf_allan_baseline){i, j, &b->allan[k]};
        }
    }
}

static void solve(wf_allan_station_point *points, const wf_allan_baseline *of, size_t n)
{
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_allan_stations(points, 1, N_STATIONS, of, n, &err), &err);
}

static void exact_sums_give_the_stations(void **state)
{
    (void)state;
    const double station[N_STATIONS] = {1e-13, 3e-14, 2e-13, 5e-14};
    baselines b;
    wf_allan_station_point points[N_STATIONS];
    fill(&b, station);
    solve(points, b.of, N_PAIRS);
    for (size_t i = 0; i < N_STATIONS; i++) {
        assert_true(points[i].solved);
        wf_check_near("time", points[i].tau_s, 4, 0, "s");
        wf_check_near("deviation", points[i].deviation / station[i], 1, 1e-9, "");
        assert_true(points[i].variance_error > 0);
    }
}

/* Three cornered hat: sigma_0^2 = (v01 + v02 - v12)/2, its variance a quarter of the sum of theirs,
 * 2 v^2 / edf each. The fourth station has no baseline. */
static void three_stations_are_the_three_cornered_hat(void **state)
{
    (void)state;
    const double station[N_STATIONS] = {1e-13, 3e-14, 2e-13, 5e-14};
    baselines b;
    wf_allan_station_point points[N_STATIONS];
    fill(&b, station);
    const wf_allan_baseline of[3] = {b.of[0], b.of[1], b.of[3]};
    solve(points, of, 3);
    double sum = 0;
    for (int k = 0; k < 3; k++)
        sum += 2 * pow(of[k].allan->points[0].deviation, 4) / 20;
    assert_true(points[0].solved && points[1].solved && points[2].solved);
    assert_false(points[3].solved);
    wf_check_near("deviation", points[0].deviation / 1e-13, 1, 1e-9, "");
    wf_check_near("error", points[0].variance_error / sqrt(sum / 4), 1, 1e-9, "");
}

/* A ring of four separates nobody: a constant may go from every other station to the rest. With a
 * triangle in it all are solved; a station that hangs on the triangle is, too. */
static void rings_of_even_number_separate_nobody(void **state)
{
    (void)state;
    const double station[N_STATIONS] = {1e-13, 3e-14, 2e-13, 5e-14};
    baselines b;
    wf_allan_station_point points[N_STATIONS];
    fill(&b, station);
    const wf_allan_baseline ring[4] = {b.of[0], b.of[3], b.of[5], b.of[2]}; /* 01 12 23 03 */
    solve(points, ring, 4);
    for (size_t i = 0; i < N_STATIONS; i++)
        assert_false(points[i].solved);
    const wf_allan_baseline hanging[4] = {b.of[0], b.of[1], b.of[3], b.of[5]}; /* 01 02 12 23 */
    solve(points, hanging, 4);
    for (size_t i = 0; i < N_STATIONS; i++) {
        assert_true(points[i].solved);
        wf_check_near("deviation", points[i].deviation / station[i], 1, 1e-9, "");
    }
    solve(points, b.of, 1);
    for (size_t i = 0; i < N_STATIONS; i++)
        assert_false(points[i].solved);
}

static void a_negative_variance_is_said_so(void **state)
{
    (void)state;
    const double station[N_STATIONS] = {1e-13, 1e-13, 1e-13, 1e-13};
    baselines b;
    wf_allan_station_point points[N_STATIONS];
    fill(&b, station);
    b.point[3].deviation = 3e-13; /* 12: more than 01 and 02 together */
    const wf_allan_baseline of[3] = {b.of[0], b.of[1], b.of[3]};
    solve(points, of, 3);
    assert_true(points[0].solved);
    const double want = 0.5 * (2e-26 + 2e-26 - (9e-26 - 16e-28));
    wf_check_near("variance", points[0].variance / want, 1, 1e-9, "");
    wf_check_near("deviation", points[0].deviation, 0, 0, "");
}

static void wrong_baselines_are_refused(void **state)
{
    (void)state;
    const double station[N_STATIONS] = {1e-13, 1e-13, 1e-13, 1e-13};
    baselines b;
    wf_allan_station_point points[N_STATIONS];
    fill(&b, station);
    wf_error err = WF_ERROR_INIT;
    b.of[2].j_station = 4;
    wf_check_refused(wf_allan_stations(points, 1, N_STATIONS, b.of, N_PAIRS, &err), WF_ARGUMENT,
                     &err, "baseline 3");
    err = (wf_error)WF_ERROR_INIT;
    b.of[2].j_station = 3;
    b.point[4].tau_s = 5;
    wf_check_refused(wf_allan_stations(points, 1, N_STATIONS, b.of, N_PAIRS, &err), WF_ARGUMENT,
                     &err, "same interval");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exact_sums_give_the_stations),
        cmocka_unit_test(three_stations_are_the_three_cornered_hat),
        cmocka_unit_test(rings_of_even_number_separate_nobody),
        cmocka_unit_test(a_negative_variance_is_said_so),
        cmocka_unit_test(wrong_baselines_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
