/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Jumps, slips and rate changes of a phase: found at their places, and none where there are none.
 */
#include "support/check.h"

#include "power_law.h"

enum { N = 256, LONG = 600 };

static const double INTERVAL_S = 0.5;

static wf_phase_events *found(double *phase_rad, size_t n, double false_alarm)
{
    const wf_fringe_phase phase = {
        .n_times = n, .interval_s = INTERVAL_S, .frequency_hz = 8.4e9, .phase_rad = phase_rad};
    wf_error err = WF_ERROR_INIT;
    wf_phase_events *events = NULL;
    wf_check_ok(wf_phase_events_find(&events, &phase, false_alarm, &err), &err);
    return events;
}

/* White noise of 0.2 rad; wander: a random walk of 0.1 rad an integration. */
static void noise(double *phase_rad, size_t n, bool wander, uint64_t seed)
{
    double sum = 0;
    for (size_t t = 0; t < n; t++) {
        sum += 0.1 * power_law_normal(seed, t);
        phase_rad[t] = wander ? sum : 2 * 0.1 * power_law_normal(seed, t);
    }
}

/* At a stated probability of 0.1 at most a tenth of 200 stretches, 20, and 5 sqrt(18) more, may
 * show something; and some do, for else the limit would be far from the stated one. */
static void false_alarms_are_as_rare_as_stated(void **state)
{
    (void)state;
    for (int wander = 0; wander < 2; wander++) {
        size_t n_alarms = 0;
        for (uint64_t draw = 0; draw < 200; draw++) {
            double x[N];
            noise(x, N, wander, 1 + draw);
            wf_phase_events *events = found(x, N, 0.1);
            n_alarms += events->n_events > 0;
            for (size_t i = 0; i < events->n_events; i++)
                assert_true(events->events[i].false_alarm <= 0.1);
            wf_phase_events_destroy(events);
        }
        print_message("false alarms of 200 at 0.1, wander %d: %zu\n", wander, n_alarms);
        assert_in_range(n_alarms, 1, 41);
    }
}

/* A jump of 1 rad: 5 times white noise, 10 times a step of the walk. At a false alarm of 0.001 it
 * is found in nearly all stretches, alone, within its stated errors of time and size: pulls of 100
 * draws have a mean square of 1 to 5 sqrt(2/100) = 0.7. */
static void jumps_are_found(void **state)
{
    (void)state;
    for (int wander = 0; wander < 2; wander++) {
        size_t n_found = 0;
        size_t n_others = 0;
        double square = 0;
        for (uint64_t draw = 0; draw < 100; draw++) {
            double x[LONG];
            noise(x, LONG, wander, 4000 + draw);
            const size_t at = 100 + 3 * (size_t)draw;
            for (size_t t = at; t < LONG; t++)
                x[t] += 1;
            wf_phase_events *events = found(x, LONG, 0.001);
            for (size_t i = 0; i < events->n_events; i++) {
                const wf_phase_event *e = &events->events[i];
                const bool here = e->kind == WF_PHASE_JUMP &&
                                  fabs(e->time_s - (double)at * INTERVAL_S) < 3 * INTERVAL_S;
                n_found += here;
                n_others += !here;
                if (here)
                    square += pow((e->size - 1) / e->error, 2);
            }
            wf_phase_events_destroy(events);
        }
        print_message("jumps found of 100, wander %d: %zu, others %zu, pull %g\n", wander, n_found,
                      n_others, square / (double)n_found);
        assert_in_range(n_found, 90, 100);
        assert_in_range(n_others, 0, 5);
        wf_check_near("mean square pull", square / (double)n_found, 1, 0.8, "");
    }
}

/* A turn within one interval, unwrapped as such, a change of rate, and a jump, all in one stretch:
 * the three are told apart; what is left is the noise. */
static void kinds_are_told_apart(void **state)
{
    (void)state;
    double x[LONG];
    const double rate = 0.3; /* rad/s */
    noise(x, LONG, false, 11);
    for (size_t t = 0; t < LONG; t++) {
        x[t] += t >= 100 ? -2 * INVENTED_PI : 0;
        x[t] += t >= 250 ? 1.5 : 0;
        x[t] += t >= 420 ? rate * ((double)t - 419.5) * INTERVAL_S : 0;
    }
    wf_phase_events *events = found(x, LONG, 0.001);
    assert_int_equal(events->n_events, 3);
    const wf_phase_event *e = events->events;
    assert_int_equal(e[0].kind, WF_PHASE_SLIP);
    assert_int_equal(e[0].turns, -1);
    wf_check_near("slip", e[0].time_s, 50, 0, "s");
    assert_int_equal(e[1].kind, WF_PHASE_JUMP);
    wf_check_near("jump", e[1].time_s, 125, 1, "s");
    wf_check_near("jump", e[1].size, 1.5, 5 * e[1].error, "rad");
    assert_int_equal(e[2].kind, WF_PHASE_RATE_CHANGE);
    wf_check_near("rate change", e[2].time_s, 210, 3 * e[2].time_error_s, "s");
    wf_check_near("rate change", e[2].size, rate, 5 * e[2].error, "rad/s");
    double square = 0;
    for (size_t t = 0; t < 420; t++)
        square += events->phase_rad[t] * events->phase_rad[t] / 420;
    /* noise, and the jump's error of 0.15 rad over half of that span */
    wf_check_near("what is left", sqrt(square), 0.2, 0.05, "rad");
    wf_phase_events_destroy(events);
}

static void holes_are_no_events(void **state)
{
    (void)state;
    double x[N];
    noise(x, N, false, 5);
    for (size_t t = 0; t < N; t++) {
        if (t % 7 == 3 || (t > 90 && t < 100))
            x[t] = NAN;
        else if (t >= 150)
            x[t] += 2;
    }
    wf_phase_events *events = found(x, N, 0.001);
    assert_int_equal(events->n_events, 1);
    wf_check_near("jump", events->events[0].time_s, 75, 0.5, "s");
    assert_true(isnan(events->phase_rad[3]));
    wf_phase_events_destroy(events);
}

/* Without noise a jump of 1e-3 rad shows, at its very place; a steady phase shows nothing. */
static void a_clean_phase_shows_small_jumps(void **state)
{
    (void)state;
    double x[N] = {0};
    wf_phase_events *events = found(x, N, 0.001);
    assert_int_equal(events->n_events, 0);
    wf_phase_events_destroy(events);
    for (size_t t = 100; t < N; t++)
        x[t] = 1e-3;
    events = found(x, N, 0.001);
    assert_int_equal(events->n_events, 1);
    wf_check_near("jump", events->events[0].time_s, 50, 0, "s");
    wf_check_near("jump", events->events[0].size, 1e-3, 1e-12, "rad");
    wf_phase_events_destroy(events);
    for (size_t t = 0; t < N; t++)
        x[t] = t >= 100 ? 0.01 * ((double)t - 99.5) : 0;
    events = found(x, N, 0.001);
    assert_int_equal(events->n_events, 1);
    assert_int_equal(events->events[0].kind, WF_PHASE_RATE_CHANGE);
    wf_check_near("rate change", events->events[0].time_s, 50, 0, "s");
    wf_check_near("rate change", events->events[0].size, 0.01 / INTERVAL_S, 1e-12, "rad/s");
    for (size_t t = 0; t < N; t++)
        wf_check_near("what is left", events->phase_rad[t], 0, 1e-10, "rad");
    wf_phase_events_destroy(events);
}

static void short_phases_have_none_and_bad_limits_are_refused(void **state)
{
    (void)state;
    double x[N] = {0};
    x[7] = 100;
    wf_phase_events *events = found(x, 15, 0.001);
    assert_int_equal(events->n_events, 0);
    wf_phase_events_destroy(events);
    const wf_fringe_phase phase = {
        .n_times = N, .interval_s = 1, .frequency_hz = 1e9, .phase_rad = x};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_phase_events_find(&events, &phase, 0, &err), WF_ARGUMENT, &err,
                     "probability of 0");
    assert_null(events);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(false_alarms_are_as_rare_as_stated),
        cmocka_unit_test(jumps_are_found),
        cmocka_unit_test(kinds_are_told_apart),
        cmocka_unit_test(holes_are_no_events),
        cmocka_unit_test(a_clean_phase_shows_small_jumps),
        cmocka_unit_test(short_phases_have_none_and_bad_limits_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
