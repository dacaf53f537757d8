/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way of the light, solved directly. */
#include "delay/light_time.h"

#include <math.h>
#include <string.h>

#include "base/status.h"
#include "delay/constants.h"
#include "delay/time_scales.h"
#include "delay/vector.h"

/* Steps gain v/c each: 1e-4 for the fastest. */
enum { N_STEPS = 7 };

static const double NEAREST_TARGET_M = 1e5;
static const double SMALLEST_CHANGE_S = 1e-11; /* in which a spacecraft goes less than 1 um */

/* The mean of (V^2/2 + U)/c^2 at the geocentre: IERS Conventions (2010) table 1.1. */
static const double L_C = 1.48082686741e-8;

static void set_frame(wfi_wave *wave, const wfi_ephemeris *ephemeris)
{
    const double c2 = WFI_SPEED_OF_LIGHT_M_PER_S * WFI_SPEED_OF_LIGHT_M_PER_S;
    const double *v = ephemeris->earth_velocity_m_per_s;
    double from_sun[3];
    for (int i = 0; i < 3; i++)
        from_sun[i] = ephemeris->earth_position_m[i] - ephemeris->sun.position_m[i];
    const double distance = wfi_length(from_sun);
    const double potential = ephemeris->sun.gm_m3_per_s2 / distance;
    for (int i = 0; i < 3; i++) {
        wave->frame_velocity[i] = v[i];
        wave->frame_acceleration[i] = -potential / (distance * distance) * from_sun[i];
    }
    wave->clock_rate = (wfi_dot(v, v) / 2.0 + potential) / c2 - L_C;
    wave->contraction = potential / c2 + L_C;
}

void wfi_wave_plane(wfi_wave *out, const double direction[3], const wfi_ephemeris *ephemeris)
{
    *out = (wfi_wave){.is_plane = true};
    memcpy(out->direction, direction, sizeof out->direction);
    set_frame(out, ephemeris);
}

/* From the target as its table gives it at emission, t, to the geocentre at arrival. */
static void set_ray(wfi_wave *wave, wf_state_frame frame, const wfi_state *target,
                    const wfi_ephemeris *ephemeris)
{
    double origin[3] = {0.0, 0.0, 0.0};
    if (frame != WF_STATE_GCRS)
        memcpy(origin, ephemeris->earth_position_m, sizeof origin);
    if (frame == WF_STATE_BCRS_FROM_EARTH) {
        double tt_jd[2], then[3];
        wfi_tt(target->t, tt_jd);
        wfi_earth_position(tt_jd, then);
        for (int i = 0; i < 3; i++)
            origin[i] -= then[i];
    }
    for (int i = 0; i < 3; i++)
        wave->from_target_m[i] = origin[i] - target->position_m[i];
    wave->distance_m = wfi_length(wave->from_target_m);
}

wf_status wfi_wave_from(wfi_wave *out, const wfi_state_table *target, wf_instant t,
                        const wfi_ephemeris *ephemeris, wf_error *err)
{
    *out = (wfi_wave){.is_geocentric = target->frame == WF_STATE_GCRS};
    if (!out->is_geocentric)
        set_frame(out, ephemeris);
    double light_s = 0.0, change_s = 1.0;
    for (int step = 0; step < N_STEPS && fabs(change_s) > SMALLEST_CHANGE_S; step++) {
        wfi_state state;
        WFI_TRY(wfi_state_table_evaluate(target, wf_instant_add(t, -light_s), &state, err));
        set_ray(out, target->frame, &state, ephemeris);
        change_s = out->distance_m / WFI_SPEED_OF_LIGHT_M_PER_S - light_s;
        light_s += change_s;
    }
    if (!(out->distance_m > NEAREST_TARGET_M))
        return wfi_fail(err, WF_FORMAT,
                        "%s: the target stands %.3g m from the geocentre: check its frame and unit",
                        target->path, out->distance_m);
    for (int i = 0; i < 3; i++)
        out->direction[i] = -out->from_target_m[i] / out->distance_m;
    return WF_OK;
}

static wf_status course_at(const wfi_course *course, double tau_s, double x[3], wf_error *err)
{
    wfi_state state;
    if (course->orbit != NULL) {
        WFI_TRY(
            wfi_state_table_evaluate(course->orbit, wf_instant_add(course->t, tau_s), &state, err));
        memcpy(x, state.position_m, sizeof state.position_m);
        return WF_OK;
    }
    for (int i = 0; i < 3; i++)
        x[i] = course->position_m[i] + tau_s * (course->velocity_m_per_s[i] +
                                                tau_s / 2.0 * course->acceleration_m_per_s2[i]);
    return WF_OK;
}

/* How much longer the way is to a point y from the geocentre than to the geocentre; the two long
 * ways are never subtracted. */
static double longer_m(const wfi_wave *wave, const double y[3])
{
    if (wave->is_plane)
        return -wfi_dot(wave->direction, y);
    double end[3];
    for (int i = 0; i < 3; i++)
        end[i] = wave->from_target_m[i] + y[i];
    return (2.0 * wfi_dot(wave->from_target_m, y) + wfi_dot(y, y)) /
           (wfi_length(end) + wave->distance_m);
}

static void set_direction(const wfi_wave *wave, const double y[3], double direction[3])
{
    double end[3];
    memcpy(direction, wave->direction, sizeof end);
    if (wave->is_plane)
        return;
    for (int i = 0; i < 3; i++)
        end[i] = wave->from_target_m[i] + y[i];
    for (int i = 0; i < 3; i++)
        direction[i] = -end[i] / wfi_length(end);
}

wf_status wfi_wave_arrival(const wfi_wave *wave, const wfi_course *course, double *tau_s,
                           double direction[3], wf_error *err)
{
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    const double *v = wave->frame_velocity;
    double y[3] = {0.0, 0.0, 0.0};
    *tau_s = 0.0;
    for (int step = 0; step < N_STEPS; step++) {
        double x[3];
        WFI_TRY(course_at(course, *tau_s, x, err));
        const double vx = wfi_dot(v, x) / (c * c);
        /* TDB at the station's event, since the geocentre's */
        const double elapsed_s = *tau_s * (1.0 + wave->clock_rate) + vx;
        for (int i = 0; i < 3; i++)
            y[i] = x[i] * (1.0 - wave->contraction) - v[i] * vx / 2.0 +
                   elapsed_s * (v[i] + elapsed_s / 2.0 * wave->frame_acceleration[i]);
        *tau_s = (longer_m(wave, y) / c - vx) / (1.0 + wave->clock_rate);
    }
    set_direction(wave, y, direction);
    return WF_OK;
}

/* (a + b + c)/(a + b - c) of the triangle of body, target and receiver. */
static double triangle(const double body[3], const double target[3], const double receiver[3])
{
    double a[3], b[3], c[3];
    for (int i = 0; i < 3; i++) {
        a[i] = target[i] - body[i];
        b[i] = receiver[i] - body[i];
        c[i] = receiver[i] - target[i];
    }
    const double sum = wfi_length(a) + wfi_length(b);
    return (sum + wfi_length(c)) / (sum - wfi_length(c));
}

/* IERS Conventions (2010) eq. 11.17, station less geocentre; the body where the wave passed it. */
static double body_s(const wfi_body *body, const wfi_wave *wave, const double position_m[3],
                     const wfi_ephemeris *ephemeris)
{
    static const double geocentre[3] = {0.0, 0.0, 0.0};
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    double place[3], target[3];
    if (wave->is_geocentric)
        return 0.0;
    for (int i = 0; i < 3; i++) {
        place[i] = body->position_m[i] - ephemeris->earth_position_m[i];
        target[i] = -wave->from_target_m[i];
    }
    const double lag_s = fmax(0.0, fmin(wfi_dot(wave->direction, place), wave->distance_m) / c);
    for (int i = 0; i < 3; i++)
        place[i] -= lag_s * body->velocity_m_per_s[i];
    return 2.0 * body->gm_m3_per_s2 / (c * c * c) *
           log(triangle(place, target, position_m) / triangle(place, target, geocentre));
}

double wfi_wave_gravity_sun_s(const wfi_wave *wave, const double position_m[3],
                              const wfi_ephemeris *ephemeris)
{
    return body_s(&ephemeris->sun, wave, position_m, ephemeris);
}

double wfi_wave_gravity_planets_s(const wfi_wave *wave, const double position_m[3],
                                  const wfi_ephemeris *ephemeris)
{
    double sum_s = 0.0;
    for (int i = 0; i < WFI_N_PLANETS; i++)
        sum_s += body_s(&ephemeris->planets[i], wave, position_m, ephemeris);
    return sum_s;
}

/* As for distant sources the geocentre's infinite part gives way to the Earth's radius: a constant
 * of all stations. */
double wfi_wave_gravity_earth_s(const wfi_wave *wave, const double position_m[3])
{
    static const double geocentre[3] = {0.0, 0.0, 0.0};
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    double target[3];
    for (int i = 0; i < 3; i++)
        target[i] = -wave->from_target_m[i];
    return 2.0 * WFI_GM_EARTH_M3_PER_S2 / (c * c * c) *
           log(triangle(geocentre, target, position_m) * WFI_EARTH_RADIUS_M /
               (2.0 * wave->distance_m));
}
