/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the Earth is turned. */
#include "delay/earth.h"

#include <erfa.h>
#include <erfam.h>

#include "delay/constants.h"
#include "delay/time_scales.h"
#include "delay/vector.h"

void wfi_earth_pole(wf_instant t, double pole[2])
{
    double tt_jd[2], s = 0;
    wfi_tt(t, tt_jd);
    eraXys06a(tt_jd[0], tt_jd[1], &pole[0], &pole[1], &s);
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
    double ut1_jd[2];
    wfi_tt(t, out->tt_jd);
    wfi_ut1(t, eop->ut1_minus_tai_s, ut1_jd);
    celestial_pole(out->tt_jd, pole, eop, out->celestial_to_spin);
    eraRz(eraEra00(ut1_jd[0], ut1_jd[1]), out->celestial_to_spin);
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

void wfi_earth_accelerate(const wfi_earth *earth, const double position_itrf_m[3],
                          double acceleration_gcrs_m_per_s2[3])
{
    const double omega = ERFA_D2PI * WFI_EARTH_TURNS_PER_DAY / WFI_DAY_S;
    double spin[3];
    wfi_rotate_back(earth->polar_motion, position_itrf_m, spin);
    const double acceleration[3] = {-omega * omega * spin[0], -omega * omega * spin[1], 0.0};
    wfi_rotate_back(earth->celestial_to_spin, acceleration, acceleration_gcrs_m_per_s2);
}
