/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phases without turns, through noise and holes. */
#include "support/check.h"

#include "power_law.h"

enum { N = 512 };

static wf_fringe_phase *unwrapped(const wf_fringe_series *series)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_phase *phase = NULL;
    wf_check_ok(wf_fringe_phase_create(&phase, series, &err), &err);
    return phase;
}

/* Several turns up and down, no noise: equal to the truth but for whole turns in common. */
static void turns_are_followed_exactly(void **state)
{
    (void)state;
    double truth[N];
    for (size_t t = 0; t < N; t++)
        truth[t] = 30 * sin(2 * INVENTED_PI * (double)t / N);
    invented_series in = invented_series_create(truth, N, 0, 1);
    wf_fringe_phase *phase = unwrapped(&in.series);
    assert_int_equal(phase->n_smoothed, 1);
    for (size_t t = 0; t < N; t++) {
        wf_check_near("phase", phase->phase_rad[t], truth[t], 1e-12, "rad");
        wf_check_near("noise", phase->sigma_rad[t], 0, 0, "rad");
    }
    assert_true(phase->expected_slips < 1e-6);
    wf_fringe_phase_destroy(phase);
    invented_series_destroy(&in);
}

/* At snr 1.5 phases scatter by 0.8 rad, and steps between single ones are beyond half a turn in 2
 * %: 512 of them slip some times. Blocks do not: in 50 draws with slow wander over 3 turns the
 * phase stays, to the end, within half a turn of the truth, and the slips expected are few. */
static void noise_does_not_add_turns(void **state)
{
    (void)state;
    double slips = 0;
    for (uint64_t draw = 0; draw < 50; draw++) {
        double truth[N];
        for (size_t t = 0; t < N; t++)
            truth[t] = 10 * cos(2 * INVENTED_PI * (double)t / N);
        invented_series in = invented_series_create(truth, N, 1 / 1.5, 77 + draw);
        wf_fringe_phase *phase = unwrapped(&in.series);
        assert_true(phase->n_smoothed > 1);
        double end = 0;
        for (size_t t = 0; t < N; t++) {
            const double off = phase->phase_rad[t] - truth[t];
            end += t < 16 ? -off / 16 : t >= N - 16 ? off / 16 : 0;
        }
        wf_check_near("turns from begin to end", end, 0, INVENTED_PI, "rad");
        slips += phase->expected_slips;
        /* 1 / snr, the amplitude known to 3 % */
        wf_check_near("noise", phase->sigma_rad[0], 1 / 1.5, 0.12, "rad");
        wf_fringe_phase_destroy(phase);
        invented_series_destroy(&in);
    }
    assert_true(slips / 50 < 0.01);
}

/* Pure noise has no phase to follow: that is said. */
static void noise_alone_is_not_trusted(void **state)
{
    (void)state;
    size_t n_trusted = 0;
    for (uint64_t draw = 0; draw < 100; draw++) {
        double none[N] = {0};
        invented_series in = invented_series_create(none, N, 1, 500 + draw);
        for (size_t t = 0; t < N; t++)
            in.fringe[t] -= 1;
        wf_fringe_phase *phase = unwrapped(&in.series);
        n_trusted += phase->expected_slips < 0.01;
        wf_fringe_phase_destroy(phase);
        invented_series_destroy(&in);
    }
    assert_int_equal(n_trusted, 0);
}

static void holes_stay_holes(void **state)
{
    (void)state;
    double truth[N];
    for (size_t t = 0; t < N; t++)
        truth[t] = 6 * sin(2 * INVENTED_PI * (double)t / N);
    invented_series in = invented_series_create(truth, N, 0, 1);
    for (size_t t = 100; t < 130; t++) {
        in.sigma[t] = INFINITY;
        in.fringe[t] = NAN;
    }
    in.sigma[0] = in.sigma[N - 1] = INFINITY;
    wf_fringe_phase *phase = unwrapped(&in.series);
    for (size_t t = 0; t < N; t++) {
        const bool hole = t == 0 || t == N - 1 || (t >= 100 && t < 130);
        assert_int_equal(isnan(phase->phase_rad[t]), hole);
        assert_int_equal(isinf(phase->sigma_rad[t]), hole);
        if (!hole)
            wf_check_near("phase", phase->phase_rad[t], truth[t], 1e-12, "rad");
    }
    wf_fringe_phase_destroy(phase);
    invented_series_destroy(&in);
}

static void too_little_is_refused(void **state)
{
    (void)state;
    double truth[8] = {0};
    invented_series in = invented_series_create(truth, 8, 0.1, 1);
    for (size_t t = 0; t < 5; t++)
        in.sigma[t] = INFINITY;
    wf_error err = WF_ERROR_INIT;
    wf_fringe_phase *phase = NULL;
    wf_check_refused(wf_fringe_phase_create(&phase, &in.series, &err), WF_RANGE, &err, "are 3");
    assert_null(phase);
    err = (wf_error)WF_ERROR_INIT;
    in.series.frequency_hz = 0;
    wf_check_refused(wf_fringe_phase_create(&phase, &in.series, &err), WF_ARGUMENT, &err, "0 Hz");
    invented_series_destroy(&in);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turns_are_followed_exactly), cmocka_unit_test(noise_does_not_add_turns),
        cmocka_unit_test(noise_alone_is_not_trusted), cmocka_unit_test(holes_stay_holes),
        cmocka_unit_test(too_little_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
