/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Events and lines of four invented stations, found again in the phases of their baselines. */
#include "support/check.h"

#include "power_law.h"

enum { N = 512, N_STATIONS = 4, N_BASELINES = 6 };

static const double INTERVAL_S = 0.5;

typedef struct scene {
    double station[N_STATIONS][N];
    double phase[N_BASELINES][N];
    wf_phase_events *events[N_BASELINES];
    wf_phase_spectrum *spectra[N_BASELINES];
    wf_event_baseline of[N_BASELINES];
} scene;

/* Stations wander by 0.03 rad an integration; baselines have white noise of 0.1 rad. */
static scene *create(void)
{
    scene *s = calloc(1, sizeof *s);
    for (size_t i = 0; i < N_STATIONS; i++) {
        for (size_t t = 1; t < N; t++)
            s->station[i][t] = s->station[i][t - 1] + 0.03 * power_law_normal(60 + i, t);
    }
    return s;
}

static wf_station_events *found(scene *s, size_t n_baselines)
{
    wf_error err = WF_ERROR_INIT;
    size_t b = 0;
    for (size_t i = 0; i < N_STATIONS; i++) {
        for (size_t j = i + 1; j < N_STATIONS; j++, b++) {
            for (size_t t = 0; t < N; t++)
                s->phase[b][t] =
                    s->station[i][t] - s->station[j][t] + 0.1 * power_law_normal(80 + b, t);
            const wf_fringe_phase phase = {.n_times = N,
                                           .interval_s = INTERVAL_S,
                                           .frequency_hz = 8.4e9,
                                           .phase_rad = s->phase[b]};
            wf_check_ok(wf_phase_events_find(&s->events[b], &phase, 1e-3, &err), &err);
            wf_check_ok(wf_phase_spectrum_measure(&s->spectra[b], s->events[b]->phase_rad, N,
                                                  INTERVAL_S, 1e-3, &err),
                        &err);
            s->of[b] = (wf_event_baseline){i, j, s->events[b], s->spectra[b]};
        }
    }
    wf_station_events *events = NULL;
    wf_check_ok(wf_station_events_find(&events, s->of, n_baselines, INTERVAL_S, &err), &err);
    return events;
}

static void destroy(scene *s, wf_station_events *events)
{
    for (size_t b = 0; b < N_BASELINES; b++) {
        wf_phase_events_destroy(s->events[b]);
        wf_phase_spectrum_destroy(s->spectra[b]);
    }
    wf_station_events_destroy(events);
    free(s);
}

/* A jump of -1.2 rad of station 2 at 100 s, a change of rate of station 3 by 0.5 rad/s at 180 s,
 * a vibration of station 0 at 0.4 Hz: three items, each told once and of its station. */
static void each_is_told_once_and_of_its_station(void **state)
{
    (void)state;
    scene *s = create();
    for (size_t t = 0; t < N; t++) {
        const double time_s = ((double)t + 0.5) * INTERVAL_S;
        s->station[2][t] -= t >= 200 ? 1.2 : 0;
        s->station[3][t] += time_s > 180 ? 0.5 * (time_s - 180) : 0;
        s->station[0][t] += 0.15 * sin(2 * INVENTED_PI * 0.4 * time_s);
    }
    wf_station_events *events = found(s, N_BASELINES);
    assert_int_equal(events->n_events, 2);
    const wf_station_event *jump = &events->events[0];
    assert_true(jump->assigned);
    assert_int_equal(jump->i_station, 2);
    assert_int_equal(jump->j_station, 2);
    assert_int_equal(jump->n_baselines, 3);
    assert_int_equal(jump->event.kind, WF_PHASE_JUMP);
    wf_check_near("jump", jump->event.time_s, 100, 0.6, "s");
    wf_check_near("jump", jump->event.size, -1.2, 5 * jump->event.error, "rad");
    const wf_station_event *rate = &events->events[1];
    assert_true(rate->assigned);
    assert_int_equal(rate->i_station, 3);
    assert_int_equal(rate->event.kind, WF_PHASE_RATE_CHANGE);
    wf_check_near("rate", rate->event.time_s, 180, 3 * rate->event.time_error_s, "s");
    wf_check_near("rate", rate->event.size, 0.5, 5 * rate->event.error, "rad/s");
    assert_int_equal(events->n_lines, 1);
    const wf_station_line *line = &events->lines[0];
    assert_true(line->assigned);
    assert_int_equal(line->i_station, 0);
    wf_check_near("line", line->line.frequency_hz, 0.4, 5 * line->line.frequency_error_hz, "Hz");
    wf_check_near("line", line->line.amplitude_rad, 0.15, 5 * line->line.amplitude_error_rad,
                  "rad");
    destroy(s, events);
}

static void one_baseline_names_both_stations(void **state)
{
    (void)state;
    scene *s = create();
    for (size_t t = 200; t < N; t++)
        s->station[1][t] += 2 * INVENTED_PI;
    wf_station_events *events = found(s, 1);
    assert_int_equal(events->n_events, 1);
    assert_false(events->events[0].assigned);
    assert_int_equal(events->events[0].i_station, 0);
    assert_int_equal(events->events[0].j_station, 1);
    assert_int_equal(events->events[0].event.turns, -1);
    wf_station_events_destroy(events);
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_station_events_find(&events, s->of, N_BASELINES, INTERVAL_S, &err), &err);
    assert_int_equal(events->n_events, 1);
    assert_true(events->events[0].assigned);
    assert_int_equal(events->events[0].i_station, 1);
    assert_int_equal(events->events[0].event.kind, WF_PHASE_SLIP);
    assert_int_equal(events->events[0].event.turns, 1);
    destroy(s, events);
}

/* The last station is second on all its baselines: they show the opposite. */
static void a_slip_has_its_stations_sign(void **state)
{
    (void)state;
    scene *s = create();
    for (size_t t = 300; t < N; t++)
        s->station[3][t] -= 2 * INVENTED_PI;
    wf_station_events *events = found(s, N_BASELINES);
    assert_int_equal(events->n_events, 1);
    assert_true(events->events[0].assigned);
    assert_int_equal(events->events[0].i_station, 3);
    assert_int_equal(events->events[0].event.turns, -1);
    wf_check_near("slip", events->events[0].event.size, -2 * INVENTED_PI,
                  5 * events->events[0].event.error, "rad");
    destroy(s, events);
}

static void quiet_stations_have_nothing(void **state)
{
    (void)state;
    scene *s = create();
    wf_station_events *events = found(s, N_BASELINES);
    assert_int_equal(events->n_events, 0);
    assert_int_equal(events->n_lines, 0);
    destroy(s, events);
}

static void bad_baselines_are_refused(void **state)
{
    (void)state;
    double x[N] = {0};
    wf_phase_events none = {.n_times = N, .phase_rad = x};
    wf_phase_events fewer = {.n_times = N - 1, .phase_rad = x};
    const wf_event_baseline of[2] = {{0, 1, &none, NULL}, {1, 2, &fewer, NULL}};
    const wf_event_baseline same[1] = {{3, 3, &none, NULL}};
    wf_error err = WF_ERROR_INIT;
    wf_station_events *events = NULL;
    wf_check_refused(wf_station_events_find(&events, of, 2, 1, &err), WF_ARGUMENT, &err, "511");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_station_events_find(&events, same, 1, 1, &err), WF_ARGUMENT, &err, "are 3");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_station_events_find(&events, of, 0, 1, &err), WF_ARGUMENT, &err, "0 base");
    assert_null(events);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_is_told_once_and_of_its_station),
        cmocka_unit_test(one_baseline_names_both_stations),
        cmocka_unit_test(a_slip_has_its_stations_sign),
        cmocka_unit_test(quiet_stations_have_nothing),
        cmocka_unit_test(bad_baselines_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
