/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the Earth and the bodies that bend light are: ERFA's analytic series. */
#include "delay/ephemeris.h"

#include <erfa.h>
#include <erfam.h>

#include "delay/constants.h"

/* Masses of the Sun over those of the planets. IERS Conventions (2010) table 1.1 and the numerical
 * standards of IAU Commission 52 (2009): the planet with its moons. */
static const struct {
    int plan94_number;
    double sun_mass_ratio;
} PLANETS[WFI_N_PLANETS - 1] = {
    {1, 6023657.33},  /* Mercury */
    {2, 408523.719},  /* Venus */
    {4, 3098703.59},  /* Mars */
    {5, 1047.348644}, /* Jupiter */
    {6, 3497.9018},   /* Saturn */
    {7, 22902.98},    /* Uranus */
    {8, 19412.26},    /* Neptune */
};

static void scale_from_au(double pv[2][3])
{
    eraSxp(ERFA_DAU, pv[0], pv[0]);
    eraSxp(ERFA_DAU / ERFA_DAYSEC, pv[1], pv[1]);
}

static void set_body(wfi_body *body, double gm_m3_per_s2, double origin[2][3], double pv[2][3])
{
    scale_from_au(pv);
    body->gm_m3_per_s2 = gm_m3_per_s2;
    eraPpp(origin[0], pv[0], body->position_m);
    eraPpp(origin[1], pv[1], body->velocity_m_per_s);
}

static double tdb_of(const double tt_jd[2])
{
    /* at the geocentre: the part that depends on the site is microseconds */
    return tt_jd[1] + eraDtdb(tt_jd[0], tt_jd[1], 0.0, 0.0, 0.0, 0.0) / ERFA_DAYSEC;
}

void wfi_earth_position(const double tt_jd[2], double position_m[3])
{
    double heliocentric[2][3], earth[2][3];
    (void)eraEpv00(tt_jd[0], tdb_of(tt_jd), heliocentric, earth);
    eraSxp(ERFA_DAU, earth[0], position_m);
}

void wfi_ephemeris_at(wfi_ephemeris *out, const double tt_jd[2])
{
    const double tdb = tdb_of(tt_jd);
    double heliocentric[2][3], earth[2][3], sun[2][3], pv[2][3];
    /* its warnings concern dates outside 1900 to 2100: instants of UTC with leap seconds are not */
    (void)eraEpv00(tt_jd[0], tdb, heliocentric, earth);
    scale_from_au(heliocentric);
    scale_from_au(earth);
    eraCp(earth[0], out->earth_position_m);
    eraCp(earth[1], out->earth_velocity_m_per_s);
    eraPvmpv(earth, heliocentric, sun);
    out->sun.gm_m3_per_s2 = WFI_GM_SUN_M3_PER_S2;
    eraCp(sun[0], out->sun.position_m);
    eraCp(sun[1], out->sun.velocity_m_per_s);
    eraMoon98(tt_jd[0], tt_jd[1], pv);
    set_body(&out->planets[0], WFI_GM_EARTH_M3_PER_S2 * WFI_MOON_TO_EARTH_MASS, earth, pv);
    for (int i = 1; i < WFI_N_PLANETS; i++) {
        (void)eraPlan94(tt_jd[0], tdb, PLANETS[i - 1].plan94_number, pv);
        set_body(&out->planets[i], WFI_GM_SUN_M3_PER_S2 / PLANETS[i - 1].sun_mass_ratio, sun, pv);
    }
}
