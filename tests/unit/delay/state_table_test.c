/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include <math.h>

#include "delay/state_table.h"

static wf_status read_text(wfi_state_table *table, char path[64], const char *text,
                           wf_time_scale scale, wf_error *err)
{
    *table = (wfi_state_table){0};
    scene_write_file(path, text);
    const wf_state_table entry = {.path = path, .frame = WF_STATE_GCRS, .time_scale = scale};
    const wf_status status = wfi_state_table_read(table, &entry, err);
    unlink(path);
    return status;
}

/* Closed form: x = 7 t^7 / 1e9, y = 1e6 - 3 t^2, z = 5 t, t in s after the second row. The
 * polynomial of degree 7 through four places and speeds holds them exactly. */
static void polynomial_of_degree_7_is_met_between_rows(void **state)
{
    (void)state;
    static const double step_s[] = {-10.0, 0.0, 10.0, 25.0};
    char text[1024] = "# t x y z vx vy vz\n";
    for (int i = 0; i < 4; i++) {
        const double t = step_s[i];
        char row[200], stamp[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(stamp, wf_instant_add(scene_time("2026-03-01T12:00:00"), t), 0);
        snprintf(row, sizeof row, "%s %.17g %.17g %.17g\t%.17g %.17g %.17g\r\n", stamp,
                 7e-9 * pow(t, 7), 1e6 - 3.0 * t * t, 5.0 * t, 49e-9 * pow(t, 6), -6.0 * t, 5.0);
        strcat(text, row);
    }
    wf_error err = WF_ERROR_INIT;
    wfi_state_table table;
    char path[64];
    const wf_status status = read_text(&table, path, text, WF_TIME_UTC, &err);
    wf_check_ok(status, &err);
    wfi_state s;
    for (double t = -10.0; t <= 25.0; t += 3.5) {
        const wf_instant at = wf_instant_add(scene_time("2026-03-01T12:00:00"), t);
        wf_check_ok(wfi_state_table_evaluate(&table, at, &s, &err), &err);
        wf_check_near("x", s.position_m[0], 7e-9 * pow(t, 7), 1e-9, "m");
        wf_check_near("y", s.position_m[1], 1e6 - 3.0 * t * t, 1e-8, "m");
        wf_check_near("vy", s.velocity_m_per_s[1], -6.0 * t, 1e-8, "m/s");
        wf_check_near("vx", s.velocity_m_per_s[0], 49e-9 * pow(t, 6), 1e-9, "m/s");
        wf_check_near("z", s.position_m[2], 5.0 * t, 1e-10, "m");
    }
    wfi_state_table_release(&table);
}

#define ROWS                                                                                       \
    "2026-03-01T12:00:00 0 0 1e7 10 0 0\n2026-03-01T12:00:10 100 0 1e7 10 0 0\n"                   \
    "2026-03-01T12:00:20 200 0 1e7 10 0 0\n"
#define LAST "2026-03-01T12:00:30 300 0 1e7 10 0 0\n"

/* Source: TT - UTC = 32.184 + 37 s since 2017 (IERS Bulletin C 52); TDB - TT at that time by ERFA,
 * below 2 ms. */
static void time_scales_are_told_apart(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_state_table table;
    char path[64];
    wfi_state s;
    const wf_instant t = scene_time("2026-03-01T11:59:05.816"); /* 12:00:15 TT */
    wf_check_ok(read_text(&table, path, ROWS LAST, WF_TIME_TT, &err), &err);
    wf_check_ok(wfi_state_table_evaluate(&table, t, &s, &err), &err);
    wf_check_near("TT", s.position_m[0], 150.0, 1e-9, "m");
    wfi_state_table_release(&table);
    wf_check_ok(read_text(&table, path, ROWS LAST, WF_TIME_TDB, &err), &err);
    wf_check_ok(wfi_state_table_evaluate(&table, t, &s, &err), &err);
    wf_check_near("TDB", s.position_m[0], 150.0, 10.0 * 2e-3, "m");
    assert_true(fabs(s.position_m[0] - 150.0) > 1e-4);
    wfi_state_table_release(&table);
}

static void faults_are_named_with_their_line(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *fault;
    } faults[] = {
        {ROWS, "holds 3 rows; a state table needs at least 4"},
        {ROWS "2026-03-01T12:00:30 300 0 1e7 10 0\n", "line 4: \"2026-03-01T12:00:30 300"},
        {ROWS "2026-03-01T12:00:30 300 0 1e7 10 0 0 0\n", "expected a time, x, y, z in m"},
        {ROWS "noon 300 0 1e7 10 0 0\n", "line 4"},
        {ROWS "2026-03-01T12:00:20 200 0 1e7 10 0 0\n", "line 4: its time is not later"},
        {ROWS "2026-03-01T12:00:30 0.3 0 1e4 0.01 0 0\n", "line 4: the velocities lead"},
        {ROWS "2026-03-01T12:00:30 300 0 1e7 -10 0 0\n", "line 4: the velocities lead 100 m away"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        wf_error err = WF_ERROR_INIT;
        wfi_state_table table;
        char path[64];
        wf_check_refused(read_text(&table, path, faults[i].text, WF_TIME_UTC, &err), WF_FORMAT,
                         &err, faults[i].fault);
        wfi_state_table_release(&table);
    }
}

static void instants_outside_are_refused(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_state_table table;
    char path[64];
    wfi_state s;
    wf_check_ok(read_text(&table, path, ROWS LAST, WF_TIME_UTC, &err), &err);
    wf_check_refused(
        wfi_state_table_evaluate(&table, scene_time("2026-03-01T11:59:59.9"), &s, &err), WF_RANGE,
        &err, "spans 2026-03-01T12:00:00.000000 to 2026-03-01T12:00:30.000000 UTC");
    wf_check_refused(
        wfi_state_table_evaluate(&table, scene_time("2026-03-01T12:00:30.1"), &s, &err), WF_RANGE,
        &err, path);
    wfi_state_table_release(&table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(polynomial_of_degree_7_is_met_between_rows),
        cmocka_unit_test(time_scales_are_told_apart),
        cmocka_unit_test(faults_are_named_with_their_line),
        cmocka_unit_test(instants_outside_are_refused),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
