/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The solid Earth under the tides of Sun and Moon: IERS Conventions (2010), section 7.1.1; equation
 * numbers are that section's. */
#include "delay/solid_tide.h"

#include <erfam.h>
#include <math.h>

#include "delay/constants.h"
#include "delay/solid_tide_table.h"
#include "delay/vector.h"

/* Masses over that of the Earth, as the section's tables were computed with. */
static const double SUN_TO_EARTH_MASS = 332946.0482;

/* Love and Shida numbers: table 7.2 and eqs. 7.2 to 7.7. */
static const double H2 = 0.6078, H2_LATITUDE = -0.0006;
static const double L2 = 0.0847, L2_LATITUDE = 0.0002;
static const double H3 = 0.292, L3 = 0.015;
static const double H_LAG_DIURNAL = -0.0025, L_LAG_DIURNAL = -0.0007;
static const double H_LAG_SEMIDIURNAL = -0.0022, L_LAG_SEMIDIURNAL = -0.0007;
static const double L1_DIURNAL = 0.0012, L1_SEMIDIURNAL = 0.0024;

wfi_tidal_place wfi_tidal_place_of(const double station_itrf_m[3])
{
    const double radius_m = wfi_length(station_itrf_m);
    const double axis_distance_m = hypot(station_itrf_m[0], station_itrf_m[1]);
    wfi_tidal_place place = {.sin_latitude = station_itrf_m[2] / radius_m,
                             .cos_latitude = axis_distance_m / radius_m,
                             .cos_longitude = 1.0};
    if (axis_distance_m > 0.0) {
        place.sin_longitude = station_itrf_m[1] / axis_distance_m;
        place.cos_longitude = station_itrf_m[0] / axis_distance_m;
    }
    for (int i = 0; i < 3; i++)
        place.direction[i] = station_itrf_m[i] / radius_m;
    return place;
}

void wfi_tidal_place_add(const wfi_tidal_place *place, const double enu_m[3], double vector_m[3])
{
    const double east = enu_m[0], north = enu_m[1], up = enu_m[2];
    const double from_axis = up * place->cos_latitude - north * place->sin_latitude;
    vector_m[0] += from_axis * place->cos_longitude - east * place->sin_longitude;
    vector_m[1] += from_axis * place->sin_longitude + east * place->cos_longitude;
    vector_m[2] += up * place->sin_latitude + north * place->cos_latitude;
}

static wfi_tidal_body body_at(const double position_itrf_m[3], double mass_ratio)
{
    const double distance_m = wfi_length(position_itrf_m);
    const double r = WFI_EARTH_RADIUS_M / distance_m;
    return (wfi_tidal_body){position_itrf_m, distance_m,
                            mass_ratio * WFI_EARTH_RADIUS_M * r * r * r};
}

/* Eqs. 7.5 and 7.6: degrees 2 and 3, in phase. */
static void add_main_part(const wfi_tidal_place *place, const wfi_tidal_body *body,
                          double displacement_m[3])
{
    double towards[3];
    for (int i = 0; i < 3; i++)
        towards[i] = body->position_itrf_m[i] / body->distance_m;
    const double c = wfi_dot(place->direction, towards);
    const double latitude_part = 1.0 - 1.5 * place->cos_latitude * place->cos_latitude;
    const double h2 = H2 + H2_LATITUDE * latitude_part;
    const double l2 = L2 + L2_LATITUDE * latitude_part;
    const double factor3_m = body->factor_m * WFI_EARTH_RADIUS_M / body->distance_m;
    const double radial_m = body->factor_m * (3.0 * (h2 / 2.0 - l2) * c * c - h2 / 2.0) +
                            factor3_m * (2.5 * (H3 - 3.0 * L3) * c * c * c + 1.5 * (L3 - H3) * c);
    const double towards_m =
        body->factor_m * 3.0 * l2 * c + factor3_m * 1.5 * L3 * (5.0 * c * c - 1.0);
    for (int i = 0; i < 3; i++)
        displacement_m[i] += radial_m * place->direction[i] + towards_m * towards[i];
}

/* A body's direction by bands, with the hour angle H from the station's meridian: cos d sin d times
 * cos H and -sin H, and cos^2 d times cos 2H and -sin 2H. */
typedef struct bands {
    double diurnal_cos;
    double diurnal_sin;
    double semidiurnal_cos;
    double semidiurnal_sin;
} bands;

static bands bands_of(const wfi_tidal_place *place, const wfi_tidal_body *body)
{
    const double x = body->position_itrf_m[0] / body->distance_m;
    const double y = body->position_itrf_m[1] / body->distance_m;
    const double z = body->position_itrf_m[2] / body->distance_m;
    const double sl = place->sin_longitude, cl = place->cos_longitude;
    const double along = x * cl + y * sl;
    const double across = x * sl - y * cl;
    return (bands){z * along, z * across, along * along - across * across, 2.0 * along * across};
}

void wfi_solid_tide_diurnal_lag(const wfi_tidal_place *place, const wfi_tidal_body *body,
                                double enu_m[3])
{
    const bands b = bands_of(place, body);
    const double sp = place->sin_latitude, cp = place->cos_latitude;
    enu_m[0] += -3.0 * L_LAG_DIURNAL * sp * body->factor_m * b.diurnal_cos;
    enu_m[1] += -3.0 * L_LAG_DIURNAL * (cp * cp - sp * sp) * body->factor_m * b.diurnal_sin;
    enu_m[2] += -3.0 * H_LAG_DIURNAL * sp * cp * body->factor_m * b.diurnal_sin;
}

void wfi_solid_tide_semidiurnal_lag(const wfi_tidal_place *place, const wfi_tidal_body *body,
                                    double enu_m[3])
{
    const bands b = bands_of(place, body);
    const double sp = place->sin_latitude, cp = place->cos_latitude;
    enu_m[0] += -1.5 * L_LAG_SEMIDIURNAL * cp * body->factor_m * b.semidiurnal_cos;
    enu_m[1] += 1.5 * L_LAG_SEMIDIURNAL * sp * cp * body->factor_m * b.semidiurnal_sin;
    enu_m[2] += -0.75 * H_LAG_SEMIDIURNAL * cp * cp * body->factor_m * b.semidiurnal_sin;
}

void wfi_solid_tide_latitude(const wfi_tidal_place *place, const wfi_tidal_body *body,
                             double enu_m[3])
{
    const bands b = bands_of(place, body);
    const double sp = place->sin_latitude, cp = place->cos_latitude;
    const double diurnal_m = 3.0 * L1_DIURNAL * body->factor_m;
    const double semidiurnal_m = 1.5 * L1_SEMIDIURNAL * body->factor_m;
    enu_m[0] += diurnal_m * sp * (cp * cp - sp * sp) * b.diurnal_sin -
                semidiurnal_m * sp * sp * cp * b.semidiurnal_sin;
    enu_m[1] += -diurnal_m * sp * sp * b.diurnal_cos - semidiurnal_m * sp * cp * b.semidiurnal_cos;
}

/* tau, s, h, p, N', ps in degrees, by the polynomials that the printed check values hold: with
 * those of ERFA the displacement differs by up to 1e-9 m, and the checks could not be met. */
static void arguments_deg(wfi_tidal_time time, double argument[6])
{
    const double t = time.tt_centuries;
    const double s0 = 218.31664563 + (481267.88194 + (-0.0014663889 + 0.00000185139 * t) * t) * t;
    const double precession =
        (1.396971278 + (0.000308889 + (0.000000021 + 0.000000007 * t) * t) * t) * t;
    const double solar_time = 360.0 * time.utc_days + 280.4606184 +
                              (36000.7700536 + (0.00038793 - 0.0000000258 * t) * t) * t;
    argument[0] = solar_time - s0;
    argument[1] = s0 + precession;
    argument[2] = 280.46645 +
                  (36000.7697489 + (0.00030322222 + (0.000000020 - 0.00000000654 * t) * t) * t) * t;
    argument[3] =
        83.35324312 +
        (4069.01363525 + (-0.01032172222 + (-0.00001249168 + 0.00000005263 * t) * t) * t) * t;
    argument[4] =
        234.95544499 +
        (1934.13626197 + (-0.00207561111 + (-0.00000213944 + 0.00000001650 * t) * t) * t) * t;
    argument[5] =
        282.93734098 +
        (1.71945766667 + (0.00045688889 + (-0.00000001778 - 0.00000000334 * t) * t) * t) * t;
}

static double phase_rad(const wfi_solid_tide_line *line, const double argument_deg[6])
{
    double deg = 0;
    for (int i = 0; i < 5; i++)
        deg += line->multiplier[i] * argument_deg[i + 1];
    return fmod(deg, 360.0) * ERFA_DD2R;
}

void wfi_solid_tide_diurnal_lines(const wfi_tidal_place *place, wfi_tidal_time time,
                                  double enu_m[3])
{
    const double sp = place->sin_latitude, cp = place->cos_latitude;
    double argument_deg[6];
    arguments_deg(time, argument_deg);
    const double here_rad = fmod(argument_deg[0], 360.0) * ERFA_DD2R +
                            atan2(place->sin_longitude, place->cos_longitude);
    double enu_mm[3] = {0, 0, 0};
    for (int i = 0; i < WFI_N_SOLID_TIDE_DIURNAL; i++) {
        const wfi_solid_tide_line *line = &WFI_SOLID_TIDE_DIURNAL[i];
        const double phase = here_rad + phase_rad(line, argument_deg);
        const double sine = sin(phase), cosine = cos(phase);
        const double ip = line->transverse_in_phase_mm, op = line->transverse_out_of_phase_mm;
        enu_mm[0] += (ip * cosine - op * sine) * sp;
        enu_mm[1] += (ip * sine + op * cosine) * (cp * cp - sp * sp);
        enu_mm[2] += (line->radial_in_phase_mm * sine + line->radial_out_of_phase_mm * cosine) *
                     2.0 * sp * cp;
    }
    for (int i = 0; i < 3; i++)
        enu_m[i] += enu_mm[i] * 1e-3;
}

void wfi_solid_tide_long_period_lines(const wfi_tidal_place *place, wfi_tidal_time time,
                                      double enu_m[3])
{
    const double sp = place->sin_latitude, cp = place->cos_latitude;
    double argument_deg[6];
    arguments_deg(time, argument_deg);
    double north_mm = 0, up_mm = 0;
    for (int i = 0; i < WFI_N_SOLID_TIDE_LONG_PERIOD; i++) {
        const wfi_solid_tide_line *line = &WFI_SOLID_TIDE_LONG_PERIOD[i];
        const double phase = phase_rad(line, argument_deg);
        const double sine = sin(phase), cosine = cos(phase);
        north_mm += line->transverse_in_phase_mm * cosine + line->transverse_out_of_phase_mm * sine;
        up_mm += line->radial_in_phase_mm * cosine + line->radial_out_of_phase_mm * sine;
    }
    enu_m[1] += north_mm * 2.0 * sp * cp * 1e-3;
    enu_m[2] += up_mm * (3.0 * sp * sp - 1.0) / 2.0 * 1e-3;
}

void wfi_solid_tide(const double station_itrf_m[3], const double sun_itrf_m[3],
                    const double moon_itrf_m[3], wfi_tidal_time time, double displacement_m[3])
{
    const wfi_tidal_place place = wfi_tidal_place_of(station_itrf_m);
    const wfi_tidal_body bodies[2] = {body_at(sun_itrf_m, SUN_TO_EARTH_MASS),
                                      body_at(moon_itrf_m, WFI_MOON_TO_EARTH_MASS)};
    double enu_m[3] = {0, 0, 0};
    for (int i = 0; i < 3; i++)
        displacement_m[i] = 0.0;
    for (int i = 0; i < 2; i++) {
        add_main_part(&place, &bodies[i], displacement_m);
        wfi_solid_tide_diurnal_lag(&place, &bodies[i], enu_m);
        wfi_solid_tide_semidiurnal_lag(&place, &bodies[i], enu_m);
        wfi_solid_tide_latitude(&place, &bodies[i], enu_m);
    }
    wfi_solid_tide_diurnal_lines(&place, time, enu_m);
    wfi_solid_tide_long_period_lines(&place, time, enu_m);
    wfi_tidal_place_add(&place, enu_m, displacement_m);
}
