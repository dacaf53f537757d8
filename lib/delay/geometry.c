/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The vacuum delay of a station against the geocentre, and its direction to the source. */
#include "delay/geometry.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

#include "delay/constants.h"
#include "delay/vector.h"

enum { ICRF3_EPOCH_MJD = 57023 }; /* 2015.0 */

void wfi_source_direction(double right_ascension_rad, double declination_rad, double direction[3])
{
    eraS2c(right_ascension_rad, declination_rad, direction);
}

void wfi_galactic_drift(const double direction[3], wf_instant t, double drift[3])
{
    double centre[3];
    wfi_source_direction(WFI_GALACTIC_CENTRE_DEG[0] * ERFA_DD2R,
                         WFI_GALACTIC_CENTRE_DEG[1] * ERFA_DD2R, centre);
    const wf_instant epoch = wf_instant_of_mjd(ICRF3_EPOCH_MJD);
    const double years = wf_instant_difference_s(t, epoch) / WFI_JULIAN_YEAR_S;
    const double angle = WFI_GALACTIC_DRIFT_UAS_PER_YEAR * 1e-6 * ERFA_DAS2R * years;
    const double along = wfi_dot(direction, centre);
    for (int i = 0; i < 3; i++)
        drift[i] = angle * (centre[i] - along * direction[i]);
}

void wfi_geometry(wfi_sight *sight, const wfi_ephemeris *ephemeris)
{
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    const double *k = sight->source;
    const double *w = sight->velocity_m_per_s;
    const double *v = sight->frame_velocity_m_per_s;
    /* potential of the Sun alone at the geocentre */
    double from_sun[3];
    for (int i = 0; i < 3; i++)
        from_sun[i] = ephemeris->earth_position_m[i] - ephemeris->sun.position_m[i];
    const double u = ephemeris->sun.gm_m3_per_s2 / wfi_length(from_sun);
    const double scale = 1.0 - (2.0 * u + wfi_dot(v, v) / 2.0 + wfi_dot(v, w)) / (c * c);
    const double aberration = 1.0 + wfi_dot(k, v) / (2.0 * c);
    sight->denominator = 1.0 + (wfi_dot(k, v) + wfi_dot(k, w)) / c;
    for (int i = 0; i < 3; i++)
        sight->gradient_s_per_m[i] =
            -(k[i] * scale + v[i] / c * aberration) / (c * sight->denominator);
}

void wfi_uvw(const wfi_sight *sight, double right_ascension_rad, double declination_rad,
             double uvw_m[3])
{
    const double sa = sin(right_ascension_rad), ca = cos(right_ascension_rad);
    const double sd = sin(declination_rad), cd = cos(declination_rad);
    const double east[3] = {-sa, ca, 0.0};
    const double north[3] = {-sd * ca, -sd * sa, cd};
    uvw_m[0] = wfi_dot(sight->position_m, east);
    uvw_m[1] = wfi_dot(sight->position_m, north);
    uvw_m[2] = wfi_dot(sight->position_m, sight->source);
}

/* Eq. 11.15, and into the terrestrial frame. */
static void apparent_direction(const wfi_sight *sight, const wfi_earth *earth,
                               double direction_itrf[3])
{
    double velocity[3], direction[3];
    for (int i = 0; i < 3; i++)
        velocity[i] = (sight->frame_velocity_m_per_s[i] + sight->velocity_m_per_s[i]) /
                      WFI_SPEED_OF_LIGHT_M_PER_S;
    const double along = wfi_dot(sight->source, velocity);
    for (int i = 0; i < 3; i++)
        direction[i] = sight->source[i] * (1.0 - along) + velocity[i];
    wfi_rotate(earth->celestial_to_terrestrial, direction, direction_itrf);
}

void wfi_horizon(const wfi_sight *sight, const wfi_earth *earth, double *azimuth_rad,
                 double *elevation_rad)
{
    double d[3];
    apparent_direction(sight, earth, d);
    double site[3] = {sight->position_itrf_m[0], sight->position_itrf_m[1],
                      sight->position_itrf_m[2]};
    double longitude = 0, latitude = 0, height_m = 0;
    (void)eraGc2gd(ERFA_GRS80, site, &longitude, &latitude, &height_m);
    const double sl = sin(longitude), cl = cos(longitude);
    const double sp = sin(latitude), cp = cos(latitude);
    const double east[3] = {-sl, cl, 0.0};
    const double north[3] = {-sp * cl, -sp * sl, cp};
    const double up[3] = {cp * cl, cp * sl, sp};
    const double e = wfi_dot(d, east), n = wfi_dot(d, north);
    *azimuth_rad = eraAnp(atan2(e, n));
    *elevation_rad = atan2(wfi_dot(d, up), hypot(e, n));
}
