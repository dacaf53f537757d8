/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "delay/gravity.h"

static const double AU_M = 1.495978707e11; /* IAU 2012 resolution B2 */
static const double C_M_PER_S = 299792458.0;
static const double AS2RAD = 3.14159265358979323846 / 648000.0;

/* The Sun rests one au along x; the source is seen at an angle from it in the x-y plane. The
 * station is displaced along y, across the ray. */
static void place(wfi_sight *sight, wfi_ephemeris *ephemeris, double angle_rad, double across_m)
{
    *sight = (wfi_sight){.source = {cos(angle_rad), sin(angle_rad), 0.0},
                         .position_m = {0.0, across_m, 0.0},
                         .denominator = 1.0};
    *ephemeris =
        (wfi_ephemeris){.sun = {.gm_m3_per_s2 = 1.32712442099e20, .position_m = {AU_M, 0.0, 0.0}}};
}

/* Source: Einstein 1916: light that grazes the Sun (695 700 km, IAU 2015 resolution B3) is bent by
 * 1.751 arcsec; at 90 degrees by 4.07 mas (half of the sky's own 8.14). A bend towards the Sun
 * turns the wavefront: a station on the outer side sees it earlier by the angle times the distance.
 * Limit: over the 700 km the bend falls by 0.001 arcsec; the second order takes off 0.003. */
static void wavefront_is_bent_as_by_general_relativity(void **state)
{
    (void)state;
    wfi_sight sight;
    wfi_ephemeris ephemeris;
    const double across_m = 7e5;
    place(&sight, &ephemeris, asin(6.957e8 / AU_M), across_m);
    const double limb_s = wfi_gravity_sun_s(&sight, &ephemeris);
    wf_check_near("at the limb", limb_s * C_M_PER_S / across_m / AS2RAD, -1.751, 0.005, "arcsec");
    /* at 90 degrees displaced along the Sun's direction, which lies across the ray */
    place(&sight, &ephemeris, 90.0 * 3600.0 * AS2RAD, 0.0);
    sight.position_m[0] = -across_m; /* away from the Sun */
    const double side_s = wfi_gravity_sun_s(&sight, &ephemeris);
    wf_check_near("at 90 degrees", side_s * C_M_PER_S / across_m / AS2RAD, -4.07e-3, 5e-6,
                  "arcsec");
}

/* Source: IERS Conventions (2010) section 11.1: the second order reaches 307 ps for 6000 km at the
 * limb. Seen as the difference from the first order alone, in closed form for rays this close. */
static void second_order_at_the_limb(void **state)
{
    (void)state;
    wfi_sight sight;
    wfi_ephemeris ephemeris;
    place(&sight, &ephemeris, asin(6.957e8 / AU_M), 6e6);
    const double both_s = wfi_gravity_sun_s(&sight, &ephemeris);
    const double range_s = 1.32712442099e20 / (C_M_PER_S * C_M_PER_S * C_M_PER_S);
    long double path[2];
    for (int i = 0; i < 2; i++) {
        const long double x = -AU_M, y = i == 0 ? 0.0L : 6e6L;
        path[i] = sqrtl(x * x + y * y) + sight.source[0] * x + sight.source[1] * y;
    }
    const double first_s = (double)(2.0L * range_s * logl(path[0] / path[1]));
    wf_check_near("second order", fabs(both_s - first_s), 307e-12, 10e-12, "s");
}

/* The term of the Earth: -2 GM/c^3 ln((|x| + k.x) / R); 2 GM/c^3 = 29.587 ps for IERS's GM. */
static void earth_term_in_closed_form(void **state)
{
    (void)state;
    wfi_sight sight = {.source = {0.0, 0.0, 1.0}, .position_m = {0.0, 0.0, 6378136.6}};
    const double unit_s = 2.0 * 3.986004418e14 / (C_M_PER_S * C_M_PER_S * C_M_PER_S);
    wf_check_near("2 GM/c^3", unit_s, 29.587e-12, 1e-15, "s");
    wf_check_near("zenith", wfi_gravity_earth_s(&sight), -unit_s * log(2.0), 1e-22, "s");
    sight.position_m[0] = 6378136.6;
    sight.position_m[2] = 0.0;
    wf_check_near("horizon", wfi_gravity_earth_s(&sight), 0.0, 1e-22, "s");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wavefront_is_bent_as_by_general_relativity),
        cmocka_unit_test(second_order_at_the_limb),
        cmocka_unit_test(earth_term_in_closed_form),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
