/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the Earth is turned. Dates are kept in two parts, whole days and the rest: one double of a
 * Julian date would blur the rotation by 20 mm. */
#include "delay/earth.h"

#include <erfa.h>
#include <erfam.h>

#include "delay/constants.h"
#include "delay/vector.h"

/* TAI - UTC when instants count from zero, 2000-01-01T00:00:00 UTC (IERS Bulletin C). */
enum { TAI_MINUS_UTC_2000_S = 32, DAY_S = 86400 };
static const double JD_2000_JANUARY_1 = 2451544.5;
static const double TT_MINUS_TAI_S = 32.184;

/* A whole day of TAI as a Julian date, and the seconds since. */
static void split_tai(wf_instant t, double *day_jd, double *second_of_day)
{
    const int64_t tai = t.second + TAI_MINUS_UTC_2000_S;
    const int64_t day = tai / DAY_S - (tai % DAY_S < 0);
    *day_jd = JD_2000_JANUARY_1 + (double)day;
    *second_of_day = (double)(tai - day * DAY_S) + t.fraction;
}

void wfi_earth_pole(wf_instant t, double pole[2])
{
    double day_jd = 0, tai_s = 0, s = 0;
    split_tai(t, &day_jd, &tai_s);
    eraXys06a(day_jd, (tai_s + TT_MINUS_TAI_S) / WFI_DAY_S, &pole[0], &pole[1], &s);
}

static void celestial_pole(const double tt_jd[2], const double pole[2], const wfi_eop_values *eop,
                           double celestial_to_intermediate[3][3])
{
    const double x = pole[0] + eop->celestial_pole_dx_rad;
    const double y = pole[1] + eop->celestial_pole_dy_rad;
    eraC2ixys(x, y, eraS06(tt_jd[0], tt_jd[1], x, y), celestial_to_intermediate);
}

void wfi_earth_orient(wfi_earth *out, wf_instant t, const double pole[2], const wfi_eop_values *eop)
{
    double day_jd = 0, tai_s = 0;
    split_tai(t, &day_jd, &tai_s);
    out->tt_jd[0] = day_jd;
    out->tt_jd[1] = (tai_s + TT_MINUS_TAI_S) / WFI_DAY_S;
    celestial_pole(out->tt_jd, pole, eop, out->celestial_to_spin);
    const double ut1_day = (tai_s + eop->ut1_minus_tai_s) / WFI_DAY_S;
    eraRz(eraEra00(day_jd, ut1_day), out->celestial_to_spin);
    eraPom00(eop->pole_x_rad, eop->pole_y_rad, eraSp00(out->tt_jd[0], out->tt_jd[1]),
             out->polar_motion);
    eraRxr(out->polar_motion, out->celestial_to_spin, out->celestial_to_terrestrial);
}

/* The length of day and precession change the velocity by less than 0.1 mm/s: 1e-17 of the delay's
 * terms in w. */
void wfi_earth_carry(const wfi_earth *earth, const double position_itrf_m[3],
                     double position_gcrs_m[3], double velocity_gcrs_m_per_s[3])
{
    const double omega = ERFA_D2PI * WFI_EARTH_TURNS_PER_DAY / WFI_DAY_S;
    double spin[3];
    wfi_rotate_back(earth->polar_motion, position_itrf_m, spin);
    wfi_rotate_back(earth->celestial_to_spin, spin, position_gcrs_m);
    const double velocity[3] = {-omega * spin[1], omega * spin[0], 0.0};
    wfi_rotate_back(earth->celestial_to_spin, velocity, velocity_gcrs_m_per_s);
}
