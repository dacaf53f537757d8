/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/delay_table.h"

static const char START[] = "2026-03-01T11:59:00";

static const double omega_of_the_earth = 7.292115e-5;

/* A delay like that of a ground station, in closed form. */
static double smooth(double since_s)
{
    return 0.0201 * sin(omega_of_the_earth * since_s + 0.7);
}

/* Degree 7, with every power worth about 1e-4 s over 100 s. */
static double heptic(double since_s)
{
    const double x = since_s / 100.0;
    return 1e-4 * (1 + x * (2 - x * (1 - x * (0.5 + x * (1 - x * (1 + x * (0.3 - x)))))));
}

static void write_table(char path[64], const double *since_s, size_t n, double (*tau_s)(double))
{
    char *content = calloc(n + 1, 64);
    assert_non_null(content);
    strcpy(content, "# a comment\n\n");
    char *p = content + strlen(content);
    for (size_t i = 0; i < n; i++) {
        char time[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(time, wf_instant_add(scene_time(START), since_s[i]), 3);
        p += sprintf(p, "%s  %.17g\n", time, tau_s(since_s[i]));
    }
    scene_write_file(path, content);
    free(content);
}

static wfi_delay_table table_of(const double *since_s, size_t n, double (*tau_s)(double))
{
    char path[64];
    write_table(path, since_s, n, tau_s);
    wfi_delay_table table = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_delay_table_read(&table, path, &err), &err);
    unlink(path);
    assert_int_equal(table.n_rows, n);
    return table;
}

static double tau_at(const wfi_delay_table *table, double since_s)
{
    double tau_s = 0;
    wf_error err = WF_ERROR_INIT;
    const wf_instant t = wf_instant_add(scene_time(START), since_s);
    wf_check_ok(wfi_delay_table_evaluate(table, t, &tau_s, &err), &err);
    return tau_s;
}

enum { N_ROWS = 40 };

static const double *even_steps(double step_s)
{
    static double since_s[N_ROWS];
    for (size_t i = 0; i < N_ROWS; i++)
        since_s[i] = step_s * (double)i;
    return since_s;
}

/* Property: eight points reproduce degree 7, also where the steps are uneven. */
static void polynomial_of_degree_7_is_exact(void **state)
{
    (void)state;
    static const double uneven_s[12] = {0, 7, 20, 26.5, 40, 41, 60, 75.25, 88, 90, 101, 120};
    wfi_delay_table table = table_of(uneven_s, 12, heptic);
    for (double since_s = 0; since_s <= 120; since_s += 1.75)
        wf_check_near("uneven", tau_at(&table, since_s), heptic(since_s), 1e-16, "s");
    wfi_delay_table_release(&table);
}

/* Error of interpolation through 8 points at the ends: 0.02 (60 s omega)^8 x 0.1 = 3e-21 s. */
static void smooth_delay_is_met(void **state)
{
    (void)state;
    wfi_delay_table table = table_of(even_steps(60.0), N_ROWS, smooth);
    for (double since_s = 0; since_s <= 60.0 * (N_ROWS - 1); since_s += 13.7)
        wf_check_near("smooth", tau_at(&table, since_s), smooth(since_s), 1e-16, "s");
    wfi_delay_table_release(&table);
}

/* Four to seven rows: cubic; its error at the ends is 0.02 (60 s omega)^4 / 24 = 3e-13 s. */
static void few_rows_are_met_by_a_cubic(void **state)
{
    (void)state;
    for (size_t n = 4; n < 8; n++) {
        wfi_delay_table table = table_of(even_steps(60.0), n, smooth);
        for (size_t i = 0; i < n; i++)
            assert_true(tau_at(&table, 60.0 * (double)i) == smooth(60.0 * (double)i));
        wf_check_near("cubic", tau_at(&table, 30.0), smooth(30.0), 3e-13, "s");
        wfi_delay_table_release(&table);
    }
}

static void nothing_is_extrapolated(void **state)
{
    (void)state;
    wfi_delay_table table = table_of(even_steps(60.0), 10, smooth);
    tau_at(&table, 0.0);
    tau_at(&table, 540.0);
    static const double outside_s[] = {-1e-6, 540.000001, -1000.0, 1e6};
    for (size_t i = 0; i < 4; i++) {
        double tau_s = 0;
        wf_error err = WF_ERROR_INIT;
        const wf_instant t = wf_instant_add(scene_time(START), outside_s[i]);
        wf_check_refused(wfi_delay_table_evaluate(&table, t, &tau_s, &err), WF_RANGE, &err,
                         "spans 2026-03-01T11:59:00.000000 to 2026-03-01T12:08:00.000000");
    }
    wfi_delay_table_release(&table);
}

static void refuse(const char *content, const char *text)
{
    char path[64];
    scene_write_file(path, content);
    wfi_delay_table table = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_delay_table_read(&table, path, &err), WF_FORMAT, &err, text);
    assert_non_null(strstr(err.message, path));
    wfi_delay_table_release(&table);
    unlink(path);
}

static void faults_are_named_by_line(void **state)
{
    (void)state;
    refuse("", "0 rows");
    refuse("# nothing but words\n", "0 rows");
    refuse("2026-03-01T12:00:00 1e-3\n2026-03-01T12:00:01 1e-3\n2026-03-01T12:00:02 1e-3\n",
           "3 rows; a delay table needs at least 4");
    refuse("2026-03-01T12:00:00 1e-3\nnonsense\n", "line 2: \"nonsense\"");
    refuse("2026-03-01T12:00:00\n", "line 1");
    refuse("2026-03-01T12:00:00 1e-3 5\n", "line 1");
    refuse("2026-03-01T12:00:00 nan\n", "line 1");
    refuse("2026-03-01T12:00:00 0,001\n", "line 1");
    refuse("2026-03-01T25:00:00 1e-3\n", "line 1");
    refuse("2026-03-01T12:00:00 1e-3\n2026-03-01T12:00:00 1e-3\n", "line 2: its time is not later");
    refuse("2026-03-01T12:00:00 1e-3\n# x\n2026-03-01T11:00:00 1e-3\n", "line 3: its time");
    refuse("2026-03-01T12:00:00 -1234567.8\n", "expected seconds");
}

static void missing_table_is_named(void **state)
{
    (void)state;
    wfi_delay_table table = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_delay_table_read(&table, "no/such/alder.txt", &err), WF_MISSING, &err,
                     "no/such/alder.txt");
    wfi_delay_table_release(&table);
}

/* The rest goes through the public interface. */

typedef struct table_scene {
    scene s;
    char path[64];
} table_scene;

static void set_table_scene(table_scene *t, double step_s, double (*tau_s)(double))
{
    scene_set(&t->s);
    write_table(t->path, even_steps(step_s), N_ROWS, tau_s);
    t->s.stations[1].delay_table_path = t->path;
    t->s.scans[0].duration_s = 200.0;
}

static void table_replaces_the_model_and_the_clock_is_added(void **state)
{
    (void)state;
    table_scene t;
    set_table_scene(&t, 10.0, smooth);
    t.s.stations[1].clock = (wf_clock){t.s.scans[0].start, 3e-6, 0.0};
    wf_delay_model *model = scene_model(&t.s);
    unlink(t.path);
    wf_error err = WF_ERROR_INIT;
    wf_track *track = NULL;
    wf_check_ok(wf_track_create(&track, model, 1, 0, &err), &err);
    for (double since_s = -1.0; since_s <= 201.0; since_s += 0.83) {
        const wf_instant now = wf_instant_add(t.s.scans[0].start, since_s);
        const wf_delay delay = scene_delay(model, 1, 0, now);
        wf_check_near("table", delay.table_s, smooth(since_s + 60.0), 1e-16, "s");
        assert_true(delay.tau_s == delay.table_s && delay.geometry_s == 0.0);
        assert_true(delay.gravity_sun_s == 0.0 && delay.clock_ahead_s == 3e-6);
        double tau_s = 0;
        wf_track_evaluate(track, now, &tau_s, NULL);
        wf_check_near("track", tau_s, smooth(since_s + 60.0) + 3e-6, 1e-14, "s");
    }
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

/* Interpolation of a table changes its window at each row; the track follows it exactly, however
 * wild the delays. */
static void track_follows_a_rough_table(void **state)
{
    (void)state;
    table_scene t;
    set_table_scene(&t, 10.0, smooth);
    /* the same times, delays jumping by 1 ms from row to row */
    char content[N_ROWS * 64] = "";
    char *p = content;
    for (int i = 0; i < N_ROWS; i++) {
        char time[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(time, wf_instant_add(scene_time(START), 7.0 * i + 0.1 * (i % 3)), 1);
        p += sprintf(p, "%s\t%.4f\n", time, 0.001 * (i * i % 7));
    }
    unlink(t.path);
    scene_write_file(t.path, content);
    wf_delay_model *model = scene_model(&t.s);
    unlink(t.path);
    wf_error err = WF_ERROR_INIT;
    wf_track *track = NULL;
    wf_check_ok(wf_track_create(&track, model, 1, 0, &err), &err);
    for (double since_s = -1.0; since_s <= 201.0; since_s += 0.37) {
        const wf_instant now = wf_instant_add(t.s.scans[0].start, since_s);
        double tau_s = 0;
        wf_track_evaluate(track, now, &tau_s, NULL);
        wf_check_near("track", tau_s, scene_delay(model, 1, 0, now).tau_s, 1e-14, "s");
    }
    wf_track_destroy(track);
    wf_delay_model_destroy(model);
}

static void uvw_and_horizon_come_from_the_position(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    wf_delay_model *model = scene_model(&s);
    const wf_delay modelled = scene_delay(model, 1, 0, s.scans[0].start);
    wf_delay_model_destroy(model);
    table_scene t;
    set_table_scene(&t, 10.0, smooth);
    model = scene_model(&t.s);
    unlink(t.path);
    const wf_delay tabled = scene_delay(model, 1, 0, s.scans[0].start);
    for (int i = 0; i < 3; i++)
        assert_true(tabled.uvw_m[i] == modelled.uvw_m[i]);
    assert_true(tabled.elevation_rad == modelled.elevation_rad);
    assert_true(tabled.azimuth_rad == modelled.azimuth_rad);
    wf_delay_model_destroy(model);
}

static void table_that_misses_a_scan_is_refused(void **state)
{
    (void)state;
    table_scene t;
    set_table_scene(&t, 5.0, smooth); /* ends at 12:02:15, the scan at 12:03:20 */
    wf_delay_model *model = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_delay_model_create(&model, &t.s.observation, &err), WF_RANGE, &err,
                     "station Birch, scan S01: ");
    assert_null(model);
    t.s.takes_part[1] = false;
    model = scene_model(&t.s);
    wf_track *track = NULL;
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_track_create(&track, model, 1, 0, &err), WF_RANGE, &err, t.path);
    assert_null(track);
    wf_delay_model_destroy(model);
    unlink(t.path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(polynomial_of_degree_7_is_exact),
        cmocka_unit_test(smooth_delay_is_met),
        cmocka_unit_test(few_rows_are_met_by_a_cubic),
        cmocka_unit_test(nothing_is_extrapolated),
        cmocka_unit_test(faults_are_named_by_line),
        cmocka_unit_test(missing_table_is_named),
        cmocka_unit_test(table_replaces_the_model_and_the_clock_is_added),
        cmocka_unit_test(track_follows_a_rough_table),
        cmocka_unit_test(uvw_and_horizon_come_from_the_position),
        cmocka_unit_test(table_that_misses_a_scan_is_refused),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
