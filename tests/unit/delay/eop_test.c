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

/* Property: a cubic is met exactly with any even step; here of 90 minutes, from a time of day. */
static void steps_of_any_length_are_taken(void **state)
{
    (void)state;
    wf_earth_orientation_day days[30] = {{0}};
    for (int i = 0; i < 30; i++) {
        const int second = 3600 + 5400 * i;
        days[i].mjd = SCENE_MJD + second / 86400;
        days[i].second_of_day = second % 86400;
        days[i].pole_x_rad = cubic(0.1 * i);
    }
    wfi_eop eop = load(days, 30);
    wf_check_near("x", at(&eop, "2026-03-01T02:30:00").pole_x_rad, cubic(0.1), 1e-20, "rad");
    wf_check_near("x", at(&eop, "2026-03-01T13:45:00").pole_x_rad, cubic(0.85), 1e-20, "rad");
    wf_check_near("x", at(&eop, "2026-03-02T19:00:00").pole_x_rad, cubic(2.8), 1e-20, "rad");
    wf_instant next;
    assert_true(wfi_eop_next_row(&eop, scene_time("2026-03-01T13:45:00"), &next));
    assert_true(wf_instant_difference_s(next, scene_time("2026-03-01T14:30:00")) == 0.0);
    assert_true(wfi_eop_next_row(&eop, scene_time("2026-03-01T14:30:00"), &next));
    assert_true(wf_instant_difference_s(next, scene_time("2026-03-01T16:00:00")) == 0.0);
    assert_false(wfi_eop_next_row(&eop, scene_time("2026-03-02T21:30:00"), &next));
    wfi_eop_values values;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_eop_evaluate(&eop, scene_time("2026-03-02T19:00:01"), &values, &err),
                     WF_RANGE, &err, "from 2026-03-01T02:30:00 to 2026-03-02T19:00:00");
    wfi_eop_release(&eop);
}

/* The shifts run on through a leap second: UT1 turns the Earth evenly, so that the second between
 * 23:59:60 and 0h changes no tide by more than a second before it does. The diurnal terms, 400 uas
 * and 30 us, turn by 1e-4 rad a second. */
static void shifts_run_through_a_leap_second(void **state)
{
    (void)state;
    wf_earth_orientation_day days[6] = {0};
    for (int i = 0; i < 6; i++) {
        days[i].mjd = LEAP_MJD - 3 + i;
        days[i].ut1_minus_utc_s = -0.4 + (days[i].mjd >= LEAP_MJD ? 1.0 : 0.0);
    }
    wfi_eop eop = load(days, 6);
    static const char *const times[] = {"2016-12-31T23:59:58", "2016-12-31T23:59:59",
                                        "2016-12-31T23:59:60", "2017-01-01T00:00:00",
                                        "2017-01-01T00:00:01"};
    double ut1_s[5];
    for (int i = 0; i < 5; i++) {
        wfi_eop_shifts shifts;
        wf_error err = WF_ERROR_INIT;
        const wfi_eop_values values = at(&eop, times[i]);
        wf_check_ok(wfi_eop_shifts_at(&eop, scene_time(times[i]), &values, &shifts, &err), &err);
        ut1_s[i] = shifts.subdaily.ut1_s + shifts.libration.ut1_s;
    }
    for (int i = 2; i < 5; i++)
        wf_check_near("evenly", ut1_s[i] - ut1_s[i - 1], ut1_s[i - 1] - ut1_s[i - 2], 1e-12, "s");
    assert_true(fabs(ut1_s[1] - ut1_s[0]) > 1e-11);
    wfi_eop_release(&eop);
}

/* Property: what runs straight is continued straight, and the offsets stay; zonal tides are UT1's
 * own and go on as they do. */
static void trend_is_continued_where_it_is_asked_for(void **state)
{
    (void)state;
    wf_earth_orientation_day days[6];
    for (int i = 0; i < 6; i++)
        days[i] = (wf_earth_orientation_day){.mjd = SCENE_MJD + i,
                                             .pole_x_rad = 1e-6 + 1e-9 * i,
                                             .pole_y_rad = 2e-6 - 3e-9 * i,
                                             .ut1_minus_utc_s = 0.1 - 1e-3 * i,
                                             .celestial_pole_dx_rad = 1e-10 * i,
                                             .celestial_pole_dy_rad = -1e-10 * i};
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    const wf_earth_orientation_entry entry = {.days = days, .n_days = 6, .extrapolate_days = 2};
    wf_check_ok(wfi_eop_load(&eop, &entry, &err), &err);
    const wfi_eop_values v = at(&eop, "2026-03-08T00:00:00"); /* two days after the last */
    wf_check_near("x", v.pole_x_rad, 1e-6 + 7e-9, 1e-18, "rad");
    wf_check_near("y", v.pole_y_rad, 2e-6 - 21e-9, 1e-18, "rad");
    assert_true(v.celestial_pole_dx_rad == days[5].celestial_pole_dx_rad);
    assert_true(v.celestial_pole_dy_rad == days[5].celestial_pole_dy_rad);
    /* the tides of five days and a half around may bend it by 1e-4 s, not more (table 8.1) */
    wf_check_near("UT1-TAI", v.ut1_minus_tai_s, 0.1 - 7e-3 - 37.0, 1e-3, "s");
    size_t n[WFI_EOP_N_KINDS];
    wfi_eop_count(&eop, scene_time("2026-03-05T12:00:00"), scene_time("2026-03-06T06:00:00"), n);
    assert_int_equal(n[WFI_EOP_MEASURED], 3); /* 4th, 5th, 6th, then two that are not there */
    assert_int_equal(n[WFI_EOP_EXTRAPOLATED], 2);
    wfi_eop_values beyond;
    wf_check_refused(wfi_eop_evaluate(&eop, scene_time("2026-03-08T00:00:01"), &beyond, &err),
                     WF_RANGE, &err, "to 2026-03-08");
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
    s.days[1].mjd += 5;
    expect_refused(s.days, SCENE_DAYS, "comes 6 days after the first");
    scene_set(&s);
    for (int i = 0; i < SCENE_DAYS; i++) {
        s.days[i].mjd = SCENE_MJD;
        s.days[i].second_of_day = 3600.0 * i + (i == 4) * 1.0;
    }
    expect_refused(s.days, SCENE_DAYS, "in even steps, 0.0416667 days as between the first two");
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
        cmocka_unit_test(steps_of_any_length_are_taken),
        cmocka_unit_test(shifts_run_through_a_leap_second),
        cmocka_unit_test(trend_is_continued_where_it_is_asked_for),
        cmocka_unit_test(nothing_is_extrapolated),
        cmocka_unit_test(days_that_cannot_be_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
