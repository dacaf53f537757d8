/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include <math.h>

/* Source of all expected values here: direct evaluation of the model, which the track interpolates
 * and which tests/standards holds against an independent one. */

/* The public header promises it; the rounding of one direct value is below 1e-15 s. */
static const double LIMIT_S = 1e-14;

static wf_track *track_of(const wf_delay_model *model, size_t i_station)
{
    wf_error err = WF_ERROR_INIT;
    wf_track *track = NULL;
    wf_check_ok(wf_track_create(&track, model, i_station, 0, &err), &err);
    return track;
}

/* Even in [0, 1), the same in every run. */
static double next_random(uint64_t *state)
{
    *state = *state * 6364136223846793005ULL + 1442695040888963407ULL;
    return (double)(*state >> 11) / 9007199254740992.0;
}

static double worst_error_s(const scene *s, size_t i_station, int n)
{
    wf_delay_model *model = scene_model(s);
    wf_track *track = track_of(model, i_station);
    uint64_t state = 12345 + i_station;
    double worst_s = 0;
    for (int i = 0; i < n; i++) {
        const double since_s = -1.0 + (s->scans[0].duration_s + 2.0) * next_random(&state);
        const wf_instant t = wf_instant_add(s->scans[0].start, since_s);
        const wf_delay direct = scene_delay(model, i_station, s->scans[0].i_source, t);
        double tau_s = 0;
        wf_track_evaluate(track, t, &tau_s, NULL);
        worst_s = fmax(worst_s, fabs(tau_s - direct.tau_s - direct.clock_ahead_s));
    }
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
    return worst_s;
}

static void track_matches_the_model_at_random_instants(void **state)
{
    (void)state;
    static const char *const starts[] = {"2026-02-26T00:00:01", "2026-03-01T03:17:11.25",
                                         "2026-03-02T23:58:20", "2026-02-28T23:59:55.5",
                                         "2026-03-01T23:54:54.5"};
    double worst_s = 0;
    for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++)
        for (size_t j = 0; j < SCENE_STATIONS; j++) {
            scene s;
            scene_set(&s);
            s.scans[0].start = scene_time(starts[i]);
            s.scans[0].i_source = i % 2;
            worst_s = fmax(worst_s, worst_error_s(&s, j, 100));
        }
    print_message("worst error of a track: %.2e s\n", worst_s);
    wf_check_near("track against model", worst_s, 0.0, LIMIT_S, "s");
}

/* A station anywhere, an antenna with a large offset, wet and sloping air, at any time of a year.
 */
static void set_anywhere(scene *s, uint64_t *state)
{
    static const double TURN = 6.283185307179586;
    const double longitude = TURN * next_random(state);
    const double sine = 2.0 * next_random(state) - 1.0;
    const int day =
        59900 + (int)(365.0 * next_random(state)); /* from 2022-11-17 on: no leap second */
    scene_set(s);
    for (int i = 0; i < SCENE_DAYS; i++)
        s->days[i].mjd = day - 4 + i;
    wf_station *station = &s->stations[0];
    station->position_itrf_m[0] = 6.37e6 * sqrt(1.0 - sine * sine) * cos(longitude);
    station->position_itrf_m[1] = 6.37e6 * sqrt(1.0 - sine * sine) * sin(longitude);
    station->position_itrf_m[2] = 6.37e6 * sine;
    station->mount = (wf_mount)(4.0 * next_random(state));
    station->axis_offset_m = 8.0;
    station->zenith_wet_delay_m = 0.3;
    station->gradient_north_m = 1e-3;
    station->gradient_east_m = -1e-3;
    s->sources[0].right_ascension_icrf_rad = TURN * next_random(state);
    s->sources[0].declination_icrf_rad = asin(2.0 * next_random(state) - 1.0);
    s->scans[0].start = wf_instant_add(wf_instant_of_mjd(day), 86000.0 * next_random(state));
    s->scans[0].duration_s = 20.0 + 900.0 * next_random(state);
}

static double lowest_rad(const scene *s)
{
    wf_delay_model *model = scene_model(s);
    double lowest = 2.0;
    for (int i = 0; i <= 8; i++) {
        const wf_instant t = wf_instant_add(s->scans[0].start, s->scans[0].duration_s * i / 8.0);
        lowest = fmin(lowest, scene_delay(model, 0, 0, t).elevation_rad);
    }
    wf_delay_model_destroy(model);
    return lowest;
}

/* All terms on. Down to 3 degrees, where refraction ends; half of the scenes are below 8. */
static void track_holds_anywhere_and_low_over_a_year(void **state)
{
    (void)state;
    static const double LOWEST = 0.053, LOW = 0.14;
    uint64_t random = 20260301;
    double worst_s = 0, lowest = 2.0;
    for (int n_low = 0, n_high = 0; n_low < 15 || n_high < 15;) {
        scene s;
        set_anywhere(&s, &random);
        const double elevation = lowest_rad(&s);
        int *n = elevation < LOW ? &n_low : &n_high;
        if (elevation < LOWEST || *n == 15)
            continue;
        ++*n;
        worst_s = fmax(worst_s, worst_error_s(&s, 0, 40));
        lowest = fmin(lowest, elevation);
    }
    print_message("worst error of a track, down to %.1f deg: %.2e s\n", 57.3 * lowest, worst_s);
    assert_true(lowest < 0.09);
    wf_check_near("anywhere", worst_s, 0.0, LIMIT_S, "s");
}

static void track_holds_for_a_short_and_for_a_long_scan(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    s.scans[0].duration_s = 0.25;
    wf_check_near("0.25 s", worst_error_s(&s, 0, 20), 0.0, LIMIT_S, "s");
    s.scans[0].duration_s = 90000.0; /* over midnight, where Earth orientation has a kink */
    wf_check_near("25 h", worst_error_s(&s, 1, 500), 0.0, LIMIT_S, "s");
}

static void pieces_join_without_gap_or_step(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    wf_track *track = track_of(model, 0);
    const size_t n = wf_track_n_pieces(track);
    assert_true(n >= 3);
    assert_null(wf_track_get_piece(track, n));
    const wf_track_piece *first = wf_track_get_piece(track, 0);
    assert_true(wf_instant_difference_s(first->start, s.scans[0].start) == -1.0);
    for (size_t i = 0; i + 1 < n; i++) {
        const wf_track_piece *a = wf_track_get_piece(track, i);
        const wf_track_piece *b = wf_track_get_piece(track, i + 1);
        wf_check_near("gap", wf_instant_difference_s(b->start, a->start), a->length_s, 0.0, "s");
        double at_end_s = 0;
        for (size_t k = WF_TRACK_DEGREE + 1; k-- > 0;)
            at_end_s = at_end_s * a->length_s + a->coefficient[k];
        wf_check_near("step", b->coefficient[0], at_end_s, LIMIT_S, "s");
    }
    const wf_track_piece *last = wf_track_get_piece(track, n - 1);
    wf_check_near("end", wf_instant_difference_s(last->start, s.scans[0].start) + last->length_s,
                  301.0, 0.0, "s");
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

static void rate_is_the_slope_of_the_delay(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    s.stations[1].clock = (wf_clock){s.scans[0].start, 1e-6, 3e-9};
    wf_delay_model *model = scene_model(&s);
    wf_track *track = track_of(model, 1);
    const wf_instant t = wf_instant_add(s.scans[0].start, 77.7);
    double before_s = 0, after_s = 0, tau_s = 0, rate = 0;
    wf_track_evaluate(track, wf_instant_add(t, -1.0), &before_s, NULL);
    wf_track_evaluate(track, wf_instant_add(t, 1.0), &after_s, NULL);
    wf_track_evaluate(track, t, &tau_s, &rate);
    /* third derivative: 21 ms omega^3 / 6 = 1.4e-15 s/s */
    wf_check_near("rate", rate, (after_s - before_s) / 2.0, 3e-15, "s/s");
    assert_true(wf_track_largest_rate(track) >= fabs(rate));
    wf_check_near("largest rate", wf_track_largest_rate(track), fabs(rate), 3e-8, "s/s");
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

static void clock_is_read_when_the_wave_arrives(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    const double ahead_s = 2.5e-6, rate = 1e-8;
    const wf_instant t = wf_instant_add(s.scans[0].start, 100.0);
    const wf_delay without = scene_delay(model, 0, 0, t);
    wf_delay_model_destroy(model);
    s.stations[0].clock = (wf_clock){scene_time("2026-03-01T11:59:00"), ahead_s, rate};
    model = scene_model(&s);
    wf_track *track = track_of(model, 0);
    double tau_s = 0;
    wf_track_evaluate(track, t, &tau_s, NULL);
    const double want_s = ahead_s + rate * (160.0 + without.tau_s);
    wf_check_near("clock in the track", tau_s - without.tau_s, want_s, LIMIT_S, "s");
    wf_check_near("clock of evaluate", scene_delay(model, 0, 0, t).clock_ahead_s, want_s, 1e-18,
                  "s");
    const wf_track_piece *piece = wf_track_get_piece(track, 0);
    const double at_start_s = ahead_s + rate * (59.0 + without.tau_s);
    /* the delay itself changes by 1.6e-4 s in the 101 s between */
    wf_check_near("clock coefficient", piece->clock_coefficient[0], at_start_s, 2e-4 * rate, "s");
    wf_check_near("clock rate", piece->clock_coefficient[1], rate, 2e-6 * rate, "s/s");
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

static void clock_can_be_switched_off(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    const wf_delay without = scene_delay(model, 0, 0, s.scans[0].start);
    wf_delay_model_destroy(model);
    s.stations[0].clock = (wf_clock){s.scans[0].start, 1.0, 0.0};
    s.observation.delay_terms.clock = false;
    model = scene_model(&s);
    wf_track *track = track_of(model, 0);
    double tau_s = 0;
    wf_track_evaluate(track, s.scans[0].start, &tau_s, NULL);
    wf_check_near("track", tau_s, without.tau_s, LIMIT_S, "s");
    assert_true(wf_track_get_piece(track, 0)->clock_coefficient[0] == 0.0);
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

static void outside_its_span_the_track_continues(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    wf_track *track = track_of(model, 2);
    static const double offsets_s[] = {-3.0, 303.0};
    for (size_t i = 0; i < 2; i++) {
        const wf_instant t = wf_instant_add(s.scans[0].start, offsets_s[i]);
        double tau_s = 0;
        wf_track_evaluate(track, t, &tau_s, NULL);
        wf_check_near("continued", tau_s, scene_delay(model, 2, 0, t).tau_s, LIMIT_S, "s");
    }
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

static void track_refuses_what_the_model_has_not(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    wf_track *track = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_track_create(&track, model, 3, 0, &err), WF_ARGUMENT, &err, "station 3");
    assert_null(track);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_track_create(&track, model, 0, 1, &err), WF_ARGUMENT, &err, "scan 1");
    wf_track_destroy(NULL);
    wf_delay_model_destroy(model);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(track_matches_the_model_at_random_instants),
        cmocka_unit_test(track_holds_anywhere_and_low_over_a_year),
        cmocka_unit_test(track_holds_for_a_short_and_for_a_long_scan),
        cmocka_unit_test(pieces_join_without_gap_or_step),
        cmocka_unit_test(rate_is_the_slope_of_the_delay),
        cmocka_unit_test(clock_is_read_when_the_wave_arrives),
        cmocka_unit_test(clock_can_be_switched_off),
        cmocka_unit_test(outside_its_span_the_track_continues),
        cmocka_unit_test(track_refuses_what_the_model_has_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
