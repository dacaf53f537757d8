/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/eop.h"

enum { LEAP_MJD = 57754 }; /* 2017-01-01, TAI - UTC 36 -> 37 s: IERS Bulletin C 52 */

static wfi_eop load(const wf_earth_orientation_day *days, size_t n)
{
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    const wf_earth_orientation_entry entry = {.days = days, .n_days = n};
    wf_check_ok(wfi_eop_load(&eop, &entry, &err), &err);
    return eop;
}

static wfi_eop_values at(const wfi_eop *eop, const char *time)
{
    wfi_eop_values values;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_eop_evaluate(eop, scene_time(time), &values, &err), &err);
    return values;
}

static double cubic(double x)
{
    return 1e-7 * (1.0 + x * (0.3 + x * (-0.02 + x * 0.005)));
}

/* Property: interpolation through four points is exact for a cubic. */
static void cubic_is_interpolated_exactly(void **state)
{
    (void)state;
    wf_earth_orientation_day days[6];
    for (int i = 0; i < 6; i++)
        days[i] = (wf_earth_orientation_day){.mjd = SCENE_MJD + i,
                                             .pole_x_rad = cubic(i),
                                             .pole_y_rad = -cubic(i),
                                             .ut1_minus_utc_s = 1e3 * cubic(i),
                                             .celestial_pole_dx_rad = 1e-2 * cubic(i),
                                             .celestial_pole_dy_rad = -1e-2 * cubic(i)};
    wfi_eop eop = load(days, 6);
    static const struct {
        const char *time;
        double day;
    } cases[] = {{"2026-03-02T00:00:00", 1.0},
                 {"2026-03-02T06:00:00", 1.25},
                 {"2026-03-03T18:00:00", 2.75},
                 {"2026-03-04T12:00:00", 3.5},
                 {"2026-03-05T00:00:00", 4.0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const wfi_eop_values values = at(&eop, cases[i].time);
        const double want = cubic(cases[i].day);
        wf_check_near("x", values.pole_x_rad, want, 1e-21, "rad");
        wf_check_near("y", values.pole_y_rad, -want, 1e-21, "rad");
        wf_check_near("UT1-TAI", values.ut1_minus_tai_s, 1e3 * want - 37.0, 4e-14, "s");
        wf_check_near("dX", values.celestial_pole_dx_rad, 1e-2 * want, 1e-23, "rad");
        wf_check_near("dY", values.celestial_pole_dy_rad, -1e-2 * want, 1e-23, "rad");
    }
    wfi_eop_release(&eop);
}

/* Property: UT1 runs evenly through a leap second, while UT1-UTC steps by one. */
static void leap_second_is_no_step(void **state)
{
    (void)state;
    wf_earth_orientation_day days[6] = {0};
    for (int i = 0; i < 6; i++) {
        const int32_t mjd = LEAP_MJD - 3 + i;
        const double elapsed_s = i * 86400.0 + (mjd >= LEAP_MJD ? 1.0 : 0.0);
        days[i].mjd = mjd;
        days[i].ut1_minus_utc_s = -0.4 - 1e-8 * elapsed_s + (mjd >= LEAP_MJD ? 1.0 : 0.0);
    }
    wfi_eop eop = load(days, 6);
    static const struct {
        const char *time;
        double elapsed_s;
    } cases[] = {{"2016-12-31T12:00:00", 2.5 * 86400},
                 {"2016-12-31T23:59:60.5", 3 * 86400 + 0.5},
                 {"2017-01-01T00:00:00", 3 * 86400 + 1},
                 {"2017-01-01T18:00:00", 3.75 * 86400 + 1}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        wf_check_near("UT1-TAI", at(&eop, cases[i].time).ut1_minus_tai_s,
                      -36.4 - 1e-8 * cases[i].elapsed_s, 4e-14, "s");
    wfi_eop_release(&eop);
}

static void nothing_is_extrapolated(void **state)
{
    (void)state;
    scene s;
    scene_set(&s); /* 2026-02-25 to 2026-03-05 */
    wfi_eop eop = load(s.days, SCENE_DAYS);
    static const char *const outside[] = {"2026-02-24T12:00:00",     "2026-02-25T00:00:00",
                                          "2026-02-25T23:59:59.999", "2026-03-04T00:00:00.001",
                                          "2026-03-05T00:00:00",     "2027-01-01T00:00:00"};
    for (size_t i = 0; i < sizeof outside / sizeof outside[0]; i++) {
        wfi_eop_values values;
        wf_error err = WF_ERROR_INIT;
        wf_check_refused(wfi_eop_evaluate(&eop, scene_time(outside[i]), &values, &err), WF_RANGE,
                         &err, "from 2026-02-26 to 2026-03-04");
        assert_non_null(strstr(err.message, outside[i]));
        assert_non_null(strstr(err.message, "the job's earth_orientation"));
    }
    at(&eop, "2026-02-26T00:00:00");
    at(&eop, "2026-03-03T23:59:59.999");
    at(&eop, "2026-03-04T00:00:00");
    wfi_eop_release(&eop);
}

static void expect_refused(const wf_earth_orientation_day *days, size_t n, const char *text)
{
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    const wf_earth_orientation_entry entry = {.days = days, .n_days = n};
    wf_check_refused(wfi_eop_load(&eop, &entry, &err), WF_FORMAT, &err, text);
    wfi_eop_release(&eop);
}

static void days_that_cannot_be_are_refused(void **state)
{
    (void)state;
    scene s;
    scene_set(&s);
    expect_refused(s.days, 3, "at least 4");
    scene_set(&s);
    s.days[3].mjd++;
    expect_refused(s.days, SCENE_DAYS, "MJD 61100 follows MJD 61098");
    scene_set(&s);
    s.days[2].ut1_minus_utc_s = -36.9;
    expect_refused(s.days, SCENE_DAYS, "day 3 (MJD 61098): UT1-UTC is -36.9 s");
    scene_set(&s);
    s.days[2].pole_y_rad = 0.3; /* arcsec taken for rad */
    expect_refused(s.days, SCENE_DAYS, "the pole is at");
    scene_set(&s);
    s.days[0].celestial_pole_dx_rad = 5e-7;
    expect_refused(s.days, SCENE_DAYS, "dPsi and dEps");
    scene_set(&s);
    s.days[1].celestial_pole_dy_rad = NAN;
    expect_refused(s.days, SCENE_DAYS, "not finite");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cubic_is_interpolated_exactly),
        cmocka_unit_test(leap_second_is_no_step),
        cmocka_unit_test(nothing_is_extrapolated),
        cmocka_unit_test(days_that_cannot_be_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
