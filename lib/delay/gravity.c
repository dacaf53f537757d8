/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light is slow and bent near masses. */
#include "delay/gravity.h"

#include <math.h>

#include "delay/constants.h"
#include "delay/vector.h"

/* |r| + k.r, also where the body stands in front of the source and the sum nearly cancels. */
static double length_plus_projection(const double k[3], const double r[3])
{
    const double length = wfi_length(r);
    const double along = wfi_dot(k, r);
    if (along >= 0.0)
        return length + along;
    const double cross[3] = {k[1] * r[2] - k[2] * r[1], k[2] * r[0] - k[0] * r[2],
                             k[0] * r[1] - k[1] * r[0]};
    return wfi_dot(cross, cross) / (length - along);
}

/* Vectors from the body to the geocentre (1) and to the station (2), eq. 11.3 to 11.6: the body
 * where it was at its closest approach to the ray, if that was before the arrival. */
static void rays(const wfi_body *body, const wfi_sight *sight, const wfi_ephemeris *ephemeris,
                 double r1[3], double r2[3])
{
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    for (int i = 0; i < 3; i++)
        r1[i] = ephemeris->earth_position_m[i] - body->position_m[i];
    const double lag_s = fmax(0.0, -wfi_dot(sight->source, r1) / c);
    const double later_s = wfi_dot(sight->source, sight->position_m) / c;
    for (int i = 0; i < 3; i++) {
        r1[i] += body->velocity_m_per_s[i] * lag_s;
        r2[i] = r1[i] + sight->position_m[i] - ephemeris->earth_velocity_m_per_s[i] * later_s;
    }
}

/* Eq. 11.1 for one body; r1 comes back for the second order. */
static double body_s(const wfi_body *body, const wfi_sight *sight, const wfi_ephemeris *ephemeris,
                     double r1[3])
{
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    double r2[3];
    rays(body, sight, ephemeris, r1, r2);
    return 2.0 * body->gm_m3_per_s2 / (c * c * c) *
           log(length_plus_projection(sight->source, r1) /
               length_plus_projection(sight->source, r2));
}

double wfi_gravity_sun_s(const wfi_sight *sight, const wfi_ephemeris *ephemeris)
{
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    const wfi_body *sun = &ephemeris->sun;
    double r1[3];
    const double first_s = body_s(sun, sight, ephemeris, r1);
    const double range_s = sun->gm_m3_per_s2 / (c * c * c);
    const double b =
        wfi_dot(sight->position_m, r1) / wfi_length(r1) + wfi_dot(sight->source, sight->position_m);
    const double path = length_plus_projection(sight->source, r1);
    return first_s + 4.0 * range_s * range_s * c * b / (path * path);
}

double wfi_gravity_planets_s(const wfi_sight *sight, const wfi_ephemeris *ephemeris)
{
    double sum_s = 0;
    double r1[3];
    for (int i = 0; i < WFI_N_PLANETS; i++)
        sum_s += body_s(&ephemeris->planets[i], sight, ephemeris, r1);
    return sum_s;
}

/* At the geocentre the path has no end: its length is replaced by the Earth's radius, a constant
 * that cancels between stations. */
double wfi_gravity_earth_s(const wfi_sight *sight)
{
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    return -2.0 * WFI_GM_EARTH_M3_PER_S2 / (c * c * c) *
           log(length_plus_projection(sight->source, sight->position_m) / WFI_EARTH_RADIUS_M);
}
