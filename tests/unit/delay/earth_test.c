/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <erfa.h>
#include <erfam.h>
#include <whitefringe/time.h>

#include "delay/earth.h"

static wf_instant instant(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t = {0, 0.0};
    wf_check_ok(wf_instant_parse(&t, text, &err), &err);
    return t;
}

static void orient(wfi_earth *earth, wf_instant t, const wfi_eop_values *values)
{
    double pole[2];
    wfi_earth_pole(t, pole);
    wfi_earth_orient(earth, t, pole, values);
}

static wfi_eop_values cookbook_values(void)
{
    return (wfi_eop_values){
        .pole_x_rad = 0.0349282 * ERFA_DAS2R,
        .pole_y_rad = 0.4833163 * ERFA_DAS2R,
        .ut1_minus_tai_s = -0.072073685 - 33.0,
        .celestial_pole_dx_rad = 0.1750e-3 * ERFA_DAS2R,
        .celestial_pole_dy_rad = -0.2259e-3 * ERFA_DAS2R,
    };
}

/* Source: IAU SOFA, "SOFA Tools for Earth Attitude", section 5 (worked example, 2007 April 5, 12h
 * UTC, IAU 2006/2000A, CIO based), inputs and matrix from memory. Limit: 0.2 microarcsec: there X
 * and Y come from the same series with dates split in another way. */
static void rotation_matches_the_published_example(void **state)
{
    (void)state;
    static const double want[3][3] = {{+0.973104317697535, +0.230363826239128, -0.000703163482198},
                                      {-0.230363800456037, +0.973104570632801, +0.000118545366625},
                                      {+0.000711560162668, +0.000046626403995, +0.999999745754024}};
    const wfi_eop_values values = cookbook_values();
    wfi_earth earth;
    orient(&earth, instant("2007-04-05T12:00:00"), &values);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            wf_check_near("celestial to terrestrial", earth.celestial_to_terrestrial[i][j],
                          want[i][j], 1e-12, "");
}

/* Source: definition of the time scales; 2007: TAI - UTC = 33 s (IERS Bulletin C). */
static void terrestrial_time_is_split_at_the_day(void **state)
{
    (void)state;
    const wfi_eop_values values = cookbook_values();
    wfi_earth earth;
    orient(&earth, instant("2007-04-05T12:00:00.25"), &values);
    assert_true(earth.tt_jd[0] == 2454195.5);
    wf_check_near("day of TT", earth.tt_jd[1], (43200.25 + 33.0 + 32.184) / 86400.0, 1e-16, "d");
    orient(&earth, instant("1999-12-31T12:00:00"), &values);
    assert_true(earth.tt_jd[0] == 2451543.5);
}

/* Property: a point on the spin axis rests, one on the equator moves by omega r. */
static void velocity_is_that_of_the_turning_earth(void **state)
{
    (void)state;
    wfi_eop_values values = cookbook_values();
    values.pole_x_rad = values.pole_y_rad = 0.0;
    wfi_earth earth;
    orient(&earth, instant("2007-04-05T12:00:00"), &values);
    const double pole[3] = {0.0, 0.0, 6.4e6}, equator[3] = {6.4e6, 0.0, 0.0};
    double position[3], velocity[3];
    wfi_earth_carry(&earth, pole, position, velocity);
    wf_check_near("at the pole", eraPm(velocity), 0.0, 1e-6, "m/s");
    wf_check_near("distance", eraPm(position), 6.4e6, 1e-8, "m");
    wfi_earth_carry(&earth, equator, position, velocity);
    /* IERS Conventions (2010) table 1.2: 7.292115e-5 rad/s */
    wf_check_near("at the equator", eraPm(velocity), 7.292115e-5 * 6.4e6, 1e-4, "m/s");
    wf_check_near("across", eraPdp(velocity, position), 0.0, 1e-3, "m^2/s");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rotation_matches_the_published_example),
        cmocka_unit_test(terrestrial_time_is_split_at_the_day),
        cmocka_unit_test(velocity_is_that_of_the_turning_earth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
