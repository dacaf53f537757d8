/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth orientation from the published series, and how well it is interpolated. The files and where
 * their values come from: tests/data/earth_orientation/README.md. */
#include "support/check.h"

#include "delay/c04.h"
#include "delay/eop.h"
#include "delay/finals2000a.h"
#include "delay/time_scales.h"
#include "delay/zonal_tides.h"

#define DATA WF_TEST_DATA "/earth_orientation/"

static const double AS2RAD = 3.14159265358979323846 / 648000.0;
static const double TAI_MINUS_UTC_S = 37.0; /* since 2017: IERS Bulletin C 52 */

static wfi_eop read_c04(const char *path)
{
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_c04_read(&eop, path, &err), &err);
    return eop;
}

static wfi_eop_values at(const wfi_eop *eop, wf_instant t, wfi_eop_shifts *shifts)
{
    wfi_eop_values values;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_eop_evaluate(eop, t, &values, &err), &err);
    wf_check_ok(wfi_eop_shifts_at(eop, t, &values, shifts, &err), &err);
    return values;
}

/* Source: EOP 14 C04 (IAU2000) of the IERS, 2018 February 1 and April 2. */
static void both_layouts_hold_the_published_values(void **state)
{
    (void)state;
    static const char *const paths[] = {DATA "eop14c04_2018.data", DATA "eop20c04_2018.data"};
    for (size_t i = 0; i < 2; i++) {
        wfi_eop eop = read_c04(paths[i]);
        assert_int_equal(eop.n_days, 61);
        assert_int_equal(eop.first_mjd, 58150);
        const wfi_eop_values *first = &eop.days[0].values;
        wf_check_near("x", first->pole_x_rad / AS2RAD, 0.015367, 1e-12, "arcsec");
        wf_check_near("y", first->pole_y_rad / AS2RAD, 0.288248, 1e-12, "arcsec");
        wf_check_near("UT1-UTC", first->ut1_minus_tai_s + TAI_MINUS_UTC_S, 0.1965069, 1e-13, "s");
        wf_check_near("dX", first->celestial_pole_dx_rad / AS2RAD, 0.000134, 1e-12, "arcsec");
        wf_check_near("dY", first->celestial_pole_dy_rad / AS2RAD, -0.000270, 1e-12, "arcsec");
        assert_int_equal(eop.days[60].start.second - eop.days[0].start.second, 60 * 86400);
        wfi_eop_release(&eop);
    }
}

/* Two services of the IERS, the same days: they differ by 0.1 mas in the pole, 0.07 ms in UT1 and
 * 0.2 mas in the celestial pole. A column or a unit mistaken, or a day, exceeds the limits tenfold.
 */
static void finals_and_c04_agree(void **state)
{
    (void)state;
    wfi_eop c04 = read_c04(DATA "eop14c04_2018.data");
    wfi_eop finals = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_finals2000a_read(&finals, DATA "finals2000A_march_2018.data", &err), &err);
    for (int i = 1; i < 9; i++) {
        const wf_instant t = wf_instant_add(finals.days[i].start, 0.3 * 86400.0);
        wfi_eop_shifts a_shifts, b_shifts;
        const wfi_eop_values a = at(&c04, t, &a_shifts);
        const wfi_eop_values b = at(&finals, t, &b_shifts);
        wf_check_near("x", a.pole_x_rad / AS2RAD, b.pole_x_rad / AS2RAD, 1e-4, "arcsec");
        wf_check_near("y", a.pole_y_rad / AS2RAD, b.pole_y_rad / AS2RAD, 1e-4, "arcsec");
        wf_check_near("UT1-TAI", a.ut1_minus_tai_s, b.ut1_minus_tai_s, 1e-4, "s");
        wf_check_near("dX", a.celestial_pole_dx_rad / AS2RAD, b.celestial_pole_dx_rad / AS2RAD,
                      2e-4, "arcsec");
        wf_check_near("dY", a.celestial_pole_dy_rad / AS2RAD, b.celestial_pole_dy_rad / AS2RAD,
                      2e-4, "arcsec");
        wf_check_near("libration", a_shifts.libration.ut1_s, b_shifts.libration.ut1_s, 1e-13, "s");
    }
    wfi_eop_release(&finals);
    wfi_eop_release(&c04);
}

/* Every second day of the series as a series of its own. */
static wfi_eop every_second_day(const wfi_eop *all)
{
    wfi_eop half = {0};
    wf_error err = WF_ERROR_INIT;
    for (size_t i = 0; i < all->n_days; i += 2) {
        const wfi_eop_values *v = &all->days[i].values;
        const wf_earth_orientation_day day = {.mjd = all->first_mjd + (int32_t)i,
                                              .pole_x_rad = v->pole_x_rad,
                                              .pole_y_rad = v->pole_y_rad,
                                              .ut1_minus_utc_s =
                                                  v->ut1_minus_tai_s + TAI_MINUS_UTC_S,
                                              .celestial_pole_dx_rad = v->celestial_pole_dx_rad,
                                              .celestial_pole_dy_rad = v->celestial_pole_dy_rad};
        wf_check_ok(wfi_eop_append(&half, &day, "test", &err), &err);
    }
    return half;
}

/* Four-point interpolation over two days, against what was measured between. UT1 is met the better
 * for the tides being kept out of it; what is left is weather (angular momentum of the air): 7 us
 * and 0.2 mas here. A wrong sign
 * of the tides' share would double it. */
static void days_left_out_are_met(void **state)
{
    (void)state;
    wfi_eop all = read_c04(DATA "eop14c04_2018.data");
    wfi_eop half = every_second_day(&all);
    double with = 0, without = 0, pole = 0;
    int n = 0;
    for (size_t i = 3; i + 3 < all.n_days; i += 2, n++) {
        wfi_eop_shifts shifts;
        const wfi_eop_values v = at(&half, all.days[i].start, &shifts);
        const double error_s = v.ut1_minus_tai_s - all.days[i].values.ut1_minus_tai_s;
        const double x = (v.pole_x_rad - all.days[i].values.pole_x_rad) / AS2RAD;
        without += error_s * error_s;
        with += (error_s + shifts.zonal_tides.ut1_s) * (error_s + shifts.zonal_tides.ut1_s);
        pole += x * x;
    }
    with = sqrt(with / n);
    without = sqrt(without / n);
    pole = sqrt(pole / n);
    print_message("days left out: UT1 %.2g us, %.2g us with tides in; x %.2g mas\n", with * 1e6,
                  without * 1e6, pole * 1e3);
    assert_true(with < 8e-6 && with < 0.85 * without && pole < 0.2e-3);
    wfi_eop_release(&half);
    wfi_eop_release(&all);
}

/* Property: a series of nothing but zonal tides comes out as the tides, whatever the step. Rounding
 * of UT1 - TAI: 7e-15 s. */
static void zonal_tides_come_out_as_they_went_in(void **state)
{
    (void)state;
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    double tt_jd[2], largest = 0;
    for (int i = 0; i < 12; i++) {
        wfi_tt(wf_instant_of_mjd(58150 + i), tt_jd);
        const wf_earth_orientation_day day = {
            .mjd = 58150 + i, .ut1_minus_utc_s = wfi_zonal_tides_s(wfi_centuries(tt_jd))};
        wf_check_ok(wfi_eop_append(&eop, &day, "test", &err), &err);
    }
    for (int i = 0; i < 40; i++) {
        const wf_instant t = wf_instant_add(eop.days[1].start, 9.0 * 86400.0 * i / 40.0);
        wfi_eop_shifts shifts;
        wfi_eop_values v = at(&eop, t, &shifts);
        largest = fmax(largest, fabs(shifts.zonal_tides.ut1_s));
        wfi_eop_add(&v, &shifts.zonal_tides);
        wfi_tt(t, tt_jd);
        wf_check_near("UT1-TAI", v.ut1_minus_tai_s + TAI_MINUS_UTC_S,
                      wfi_zonal_tides_s(wfi_centuries(tt_jd)), 3e-14, "s");
    }
    /* shared experience: 1 to 2 us on daily values, of which the fastest tides make the most */
    assert_true(largest > 3e-7 && largest < 5e-6);
    wfi_eop_release(&eop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_layouts_hold_the_published_values),
        cmocka_unit_test(finals_and_c04_agree),
        cmocka_unit_test(days_left_out_are_met),
        cmocka_unit_test(zonal_tides_come_out_as_they_went_in),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
