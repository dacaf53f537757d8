/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "base/memory.h"

static const char NOON[] = "2026-03-01T12:00:00";

static wf_delay delay_with(const scene *s, size_t i_station)
{
    wf_delay_model *model = scene_model(s);
    const wf_delay delay = scene_delay(model, i_station, 0, scene_time(NOON));
    wf_delay_model_destroy(model);
    return delay;
}

static bool *switch_of(scene *s, const wf_delay_share *share)
{
    return (bool *)((char *)&s->observation.delay_terms + share->switch_offset);
}

static double share_of(const wf_delay *d, const wf_delay_share *share)
{
    return *(const double *)((const char *)d + share->delay_offset);
}

static void sum_of_the_terms_is_the_delay(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    s.stations[0].clock.ahead_s = 1.0;
    for (size_t i = 0; i < SCENE_STATIONS; i++) {
        const wf_delay d = delay_with(&s, i);
        assert_true(d.geometry_s != 0.0 && d.gravity_sun_s != 0.0);
        assert_true(d.gravity_planets_s != 0.0 && d.gravity_earth_s != 0.0);
        size_t n = 0;
        const wf_delay_share *shares = wf_delay_shares(&n);
        long double sum_s = d.geometry_s;
        for (size_t k = 0; k < n; k++)
            sum_s += share_of(&d, &shares[k]);
        wf_check_near("sum", d.tau_s, (double)sum_s, 5e-18, "s"); /* one rounding of 21 ms */
        assert_true(d.table_s == 0.0);
    }
}

static void each_term_can_be_switched_off(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    const wf_delay all = delay_with(&s, 0);
    size_t n = 0;
    const wf_delay_share *shares = wf_delay_shares(&n);
    for (size_t i = 0; i < n; i++) {
        *switch_of(&s, &shares[i]) = false;
        const wf_delay one = delay_with(&s, 0);
        scene_set(&s);
        assert_true(share_of(&one, &shares[i]) == 0.0);
        /* what moves the station by 10 m changes its speed too: 2e-12 c, in 21 ms */
        wf_check_near(shares[i].name, all.tau_s - one.tau_s, share_of(&all, &shares[i]), 5e-14,
                      "s");
    }
}

static void clock_can_be_switched_off(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    s.stations[0].clock.ahead_s = 2e-6;
    const wf_delay all = delay_with(&s, 0);
    s.observation.delay_terms.clock = false;
    const wf_delay one = delay_with(&s, 0);
    assert_true(one.clock_ahead_s == 0.0 && all.clock_ahead_s == 2e-6);
    assert_true(one.tau_s == all.tau_s);
}

/* Source: decimal years of 365.25 days, 2015.0 = MJD 57023 (ITRF2020): MJD 61100.5 is 4077.5 days
 * later. Switching plate motion off equals a station without velocity; on, one moved by hand, but
 * for the tides, which are those of the position's epoch: 0.3 m x 0.7 m / 6.4e6 m = 1e-16 s. */
static void plate_motion_counts_from_the_epoch(void **state)
{
    (void)state;
    scene moved, still;
    scene_set(&moved);
    scene_set(&still);
    /* the air is taken to be that over the stated place: half a metre makes 5 ps at 3 degrees */
    moved.observation.delay_terms.troposphere_hydrostatic = false;
    still.observation.delay_terms.troposphere_hydrostatic = false;
    for (size_t i = 0; i < 2; i++) {
        const double years = 4077.5 / 365.25 - (moved.stations[i].position_epoch_year - 2015.0);
        for (int k = 0; k < 3; k++) {
            still.stations[i].position_itrf_m[k] +=
                years * still.stations[i].velocity_itrf_m_per_year[k];
            still.stations[i].velocity_itrf_m_per_year[k] = 0.0;
        }
        wf_check_near("moved", delay_with(&moved, i).tau_s, delay_with(&still, i).tau_s, 1e-16,
                      "s");
    }
    scene off;
    scene_set(&off);
    off.observation.delay_terms.station_velocity = false;
    off.observation.delay_terms.troposphere_hydrostatic = false;
    scene_set(&still);
    still.observation.delay_terms.troposphere_hydrostatic = false;
    still.stations[1].velocity_itrf_m_per_year[0] = 0.0;
    still.stations[1].velocity_itrf_m_per_year[1] = 0.0;
    still.stations[1].velocity_itrf_m_per_year[2] = 0.0;
    assert_true(delay_with(&off, 1).tau_s == delay_with(&still, 1).tau_s);
    assert_true(fabs(delay_with(&off, 1).tau_s - delay_with(&moved, 1).tau_s) > 1e-10);
}

/* House sign: a station on the source's side hears the wave before the geocentre; w leads by the
 * same path. The next terms are aberration, 1e-4. */
static void station_towards_the_source_is_early(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    for (size_t i = 0; i < SCENE_STATIONS; i++) {
        const wf_delay d = delay_with(&s, i);
        wf_check_near("-w/c", d.tau_s, -d.uvw_m[2] / 299792458.0, 0.0213 * 1.1e-4, "s");
        const double radius_m =
            sqrt(d.uvw_m[0] * d.uvw_m[0] + d.uvw_m[1] * d.uvw_m[1] + d.uvw_m[2] * d.uvw_m[2]);
        /* geodetic and geocentric vertical differ by 0.2 degrees at most */
        wf_check_near("elevation", sin(d.elevation_rad), d.uvw_m[2] / radius_m, 0.0036, "");
    }
}

/* u and v are the slopes of the delay over the source's position: tau = -(u l + v m + w n) / c. */
static void uvw_are_east_and_north(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    const wf_delay here = delay_with(&s, 0);
    const double step_rad = 1e-5;
    scene_set(&s);
    s.sources[0].right_ascension_icrf_rad += step_rad;
    const wf_delay east = delay_with(&s, 0);
    scene_set(&s);
    s.sources[0].declination_icrf_rad += step_rad;
    const wf_delay north = delay_with(&s, 0);
    const double c = 299792458.0;
    /* limits: aberration 1e-4 of 6.4e6 m, curvature 5e-6 */
    wf_check_near("u", -c * (east.tau_s - here.tau_s) / step_rad / cos(0.4), here.uvw_m[0], 1.5e3,
                  "m");
    wf_check_near("v", -c * (north.tau_s - here.tau_s) / step_rad, here.uvw_m[1], 1.5e3, "m");
}

static void refuse(const scene *s, wf_status status, const char *text)
{
    wf_delay_model *model = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_delay_model_create(&model, &s->observation, &err), status, &err, text);
    assert_null(model);
}

static void what_cannot_be_modelled_is_refused_at_once(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    s.observation.earth_orientation.n_days = 0;
    refuse(&s, WF_MISSING, "station Alder: no Earth orientation");
    scene_set(&s);
    s.stations[2].position_itrf_m[1] /= 1000.0;
    refuse(&s, WF_FORMAT, "station Cedar: position_itrf_m");
    scene_set(&s);
    s.stations[2].position_itrf_m[1] = NAN;
    refuse(&s, WF_FORMAT, "station Cedar: position_itrf_m");
    scene_set(&s);
    s.scans[0].start = scene_time("2026-03-03T23:59:00");
    refuse(&s, WF_RANGE, "scan S01: the job's earth_orientation");
    scene_set(&s);
    s.scans[0].start = scene_time("2026-02-26T00:00:00.5"); /* the second before is outside */
    refuse(&s, WF_RANGE, "2026-02-25T23:59:59.500");
    scene_set(&s);
    s.observation.earth_orientation.path = "no/such/finals2000A.all";
    refuse(&s, WF_MISSING, "no/such/finals2000A.all");
    scene_set(&s);
    s.stations[1].delay_table_path = "no/such/birch.txt";
    refuse(&s, WF_MISSING, "station Birch: no/such/birch.txt");
}

static void evaluate_refuses_what_it_has_not(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    wf_delay d;
    wf_error err = WF_ERROR_INIT;
    const wf_instant noon = scene_time(NOON);
    wf_check_refused(wf_delay_evaluate(model, 3, 0, noon, &d, &err), WF_ARGUMENT, &err,
                     "station 3");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_delay_evaluate(model, 0, 2, noon, &d, &err), WF_ARGUMENT, &err, "source 2");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_delay_evaluate(model, 0, 0, scene_time("2026-04-01T00:00:00"), &d, &err),
                     WF_RANGE, &err, "2026-04-01");
    wf_delay_model_destroy(model);
    wf_delay_model_destroy(NULL);
}

/* With tables for all stations no Earth orientation is needed; u,v,w then hold to UT1-UTC. */
static void tables_alone_do_without_earth_orientation(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    const wf_delay modelled = delay_with(&s, 0);
    char path[64];
    scene_write_file(path, "2026-03-01T11:00:00 0.001\n2026-03-01T12:00:00 0.002\n"
                           "2026-03-01T13:00:00 0.003\n2026-03-01T14:00:00 0.004\n");
    for (size_t i = 0; i < SCENE_STATIONS; i++)
        s.stations[i].delay_table_path = path;
    s.observation.earth_orientation = (wf_earth_orientation_entry){0};
    const wf_delay tabled = delay_with(&s, 0);
    unlink(path);
    wf_check_near("table", tabled.tau_s, 0.002, 1e-18, "s");
    for (int i = 0; i < 3; i++)
        wf_check_near("uvw", tabled.uvw_m[i], modelled.uvw_m[i], 1e-4 * 6.4e6, "m");
}

/* Builds without the failing allocator go through once. */
static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    char path[64];
    scene_write_file(path, "2026-03-01T11:00:00 0.001\n2026-03-01T12:00:00 0.002\n"
                           "2026-03-01T13:00:00 0.003\n2026-03-01T14:00:00 0.004\n");
    s.stations[1].delay_table_path = path;
    int n_failed = 0;
    for (long n = 1; n < 100; n++) {
        wf_delay_model *model = NULL;
        wf_track *track = NULL;
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        wf_status status = wf_delay_model_create(&model, &s.observation, &err);
        if (status == WF_OK)
            status = wf_track_create(&track, model, 0, 0, &err);
        wfi_memory_fail_after(0);
        assert_true(status == WF_OK || (status == WF_MEMORY && track == NULL));
        wf_track_destroy(track);
        wf_delay_model_destroy(model);
        if (status == WF_OK)
            break;
        n_failed++;
    }
    unlink(path);
    assert_true(n_failed < 99);
#ifdef WFI_CHECKS
    assert_true(n_failed > 10);
#endif
}

typedef struct told {
    int n;
    char last[512];
} told;

static void remember(void *context, const char *message)
{
    told *t = context;
    t->n++;
    snprintf(t->last, sizeof t->last, "%s", message);
}

/* The scan of 2026-03-01 at noon lies between rows 3 to 6 of the scene's days. */
static void doubtful_orientation_is_told_of(void **state)
{
    (void)state;
    static const struct {
        int i_day;
        int n_told;
    } cases[] = {{2, 0}, {3, 1}, {6, 1}, {7, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        scene s;
        scene_set(&s);
        s.days[cases[i].i_day].predicted = true;
        wf_delay_model *model = scene_model(&s);
        told t = {0};
        wf_delay_warn_of_orientation(model, NULL, remember, &t);
        assert_int_equal(t.n, cases[i].n_told);
        if (t.n > 0)
            assert_non_null(strstr(t.last, "the Earth orientation of scan S01 is predicted (1 of "
                                           "its 4 rows), not measured"));
        static const bool none[] = {false};
        wf_delay_warn_of_orientation(model, none, remember, &t);
        wf_delay_warn_of_orientation(model, NULL, NULL, NULL);
        assert_int_equal(t.n, cases[i].n_told);
        wf_delay_model_destroy(model);
    }
    scene s;
    scene_set(&s);
    s.observation.earth_orientation.n_days = 5; /* to 2026-03-01 */
    s.observation.earth_orientation.extrapolate_days = 1;
    wf_delay_model *model = scene_model(&s);
    told t = {0};
    wf_delay_warn_of_orientation(model, NULL, remember, &t);
    assert_int_equal(t.n, 1);
    assert_non_null(strstr(t.last, "continued beyond the series (2 of its 4 rows)"));
    wf_delay_model_destroy(model);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sum_of_the_terms_is_the_delay),
        cmocka_unit_test(each_term_can_be_switched_off),
        cmocka_unit_test(clock_can_be_switched_off),
        cmocka_unit_test(plate_motion_counts_from_the_epoch),
        cmocka_unit_test(station_towards_the_source_is_early),
        cmocka_unit_test(uvw_are_east_and_north),
        cmocka_unit_test(what_cannot_be_modelled_is_refused_at_once),
        cmocka_unit_test(evaluate_refuses_what_it_has_not),
        cmocka_unit_test(doubtful_orientation_is_told_of),
        cmocka_unit_test(tables_alone_do_without_earth_orientation),
        cmocka_unit_test(every_failing_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
