/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The delay of a station, term by term: here all terms come together. */
#include <math.h>
#include <string.h>

#include <whitefringe/delay.h>

#include "base/status.h"
#include "delay/antenna.h"
#include "delay/clock.h"
#include "delay/constants.h"
#include "delay/geometry.h"
#include "delay/gravity.h"
#include "delay/moment.h"
#include "delay/mount.h"
#include "delay/vector.h"

/* The steel of an antenna follows the air by 2 hours (Nothnagel 2009, J. Geodesy 83, 787). */
static const double STEEL_LAG_S = 7200.0;

/* One station at one moment, looking at one source. */
typedef struct view {
    const wf_delay_model *model;
    const wf_station *station;
    const wfi_site *site;
    const wfi_state_table *orbit; /* without rows for a station on the ground */
    const wfi_moment *moment;
    wfi_sight sight;
} view;

/* Where the station is, and what moved it there. */
static wf_status place_station(view *v, wfi_displacement *m, wf_error *err)
{
    wfi_sight *sight = &v->sight;
    *m = (wfi_displacement){0};
    if (v->orbit->n_rows > 0) {
        wfi_state state;
        WFI_TRY(wfi_state_table_evaluate(v->orbit, v->moment->t, &state, err));
        memcpy(sight->position_m, state.position_m, sizeof sight->position_m);
        memcpy(sight->velocity_m_per_s, state.velocity_m_per_s, sizeof sight->velocity_m_per_s);
        return WF_OK;
    }
    wfi_displacement_at(m, v->site, &v->model->terms, &v->moment->tides);
    for (int i = 0; i < 3; i++)
        sight->position_itrf_m[i] = v->site->position_itrf_m[i] + m->station_velocity[i] +
                                    m->post_seismic[i] + m->solid_tide[i] + m->pole_tide[i] +
                                    m->ocean_loading[i] + m->ocean_pole_tide[i];
    wfi_earth_carry(&v->moment->earth, sight->position_itrf_m, sight->position_m,
                    sight->velocity_m_per_s);
    return WF_OK;
}

/* Whether eq. 11.9 holds: a plane wave, a station that moves evenly while the wave passes. */
static bool is_ordinary(const view *v)
{
    return v->moment->wave.is_plane && v->orbit->n_rows == 0;
}

/* Direction and vacuum delay where eq. 11.9 does not hold. */
static wf_status solve_light_time(view *v, double *tau_s, wf_error *err)
{
    wfi_course course = {.t = v->moment->t, .orbit = v->orbit->n_rows > 0 ? v->orbit : NULL};
    memcpy(course.position_m, v->sight.position_m, sizeof course.position_m);
    memcpy(course.velocity_m_per_s, v->sight.velocity_m_per_s, sizeof course.velocity_m_per_s);
    wfi_earth_accelerate(&v->moment->earth, v->sight.position_itrf_m, course.acceleration_m_per_s2);
    return wfi_wave_arrival(&v->moment->wave, &course, tau_s, v->sight.source, err);
}

/* The numerator of eq. 11.9 is linear in the position: a move's share is its image. */
static double move_s(const view *v, const double move_itrf_m[3])
{
    double move_m[3];
    wfi_rotate_back(v->moment->earth.celestial_to_terrestrial, move_itrf_m, move_m);
    return wfi_dot(v->sight.gradient_s_per_m, move_m);
}

/* What a matrix into the celestial frame makes of the catalogue's position. */
static double turned_s(const view *v, const double to_celestial[3][3])
{
    double x_m[3];
    wfi_rotate(to_celestial, v->site->position_itrf_m, x_m);
    return wfi_dot(v->sight.gradient_s_per_m, x_m);
}

static void add_moves(const view *v, const wfi_displacement *m, wf_delay *out)
{
    out->station_velocity_s = move_s(v, m->station_velocity);
    out->post_seismic_s = move_s(v, m->post_seismic);
    out->solid_tide_s = move_s(v, m->solid_tide);
    out->pole_tide_s = move_s(v, m->pole_tide);
    out->ocean_loading_s = move_s(v, m->ocean_loading);
    out->ocean_pole_tide_s = move_s(v, m->ocean_pole_tide);
}

static void add_rotation(const view *v, wf_delay *out)
{
    const wfi_moment *moment = v->moment;
    out->celestial_pole_offsets_s = turned_s(v, moment->part[WFI_CELESTIAL_POLE_OFFSETS]);
    out->ut1_zonal_tides_s = turned_s(v, moment->part[WFI_UT1_ZONAL_TIDES]);
    out->libration_s = turned_s(v, moment->part[WFI_LIBRATION]);
    out->subdaily_rotation_s = turned_s(v, moment->part[WFI_SUBDAILY_ROTATION]);
}

/* Gravity of the bodies is divided by the denominator of eq. 11.9 as the way is. */
static void add_gravity(const view *v, wf_delay *out)
{
    const wf_delay_terms *terms = &v->model->terms;
    const wfi_ephemeris *ephemeris = &v->moment->ephemeris;
    const wfi_wave *wave = &v->moment->wave;
    const double *x = v->sight.position_m;
    const double scale = 1.0 / v->sight.denominator;
    if (terms->gravity_sun)
        out->gravity_sun_s = scale * (wave->is_plane ? wfi_gravity_sun_s(&v->sight, ephemeris)
                                                     : wfi_wave_gravity_sun_s(wave, x, ephemeris));
    if (terms->gravity_planets)
        out->gravity_planets_s =
            scale * (wave->is_plane ? wfi_gravity_planets_s(&v->sight, ephemeris)
                                    : wfi_wave_gravity_planets_s(wave, x, ephemeris));
    if (terms->gravity_earth)
        out->gravity_earth_s = scale * (wave->is_plane ? wfi_gravity_earth_s(&v->sight)
                                                       : wfi_wave_gravity_earth_s(wave, x));
}

/* Where the station looks; one in space has no horizon. */
static void look(const view *v, wf_delay *out)
{
    out->azimuth_rad = out->elevation_rad = NAN;
    if (v->orbit->n_rows == 0)
        wfi_horizon(&v->sight, &v->moment->earth, &out->azimuth_rad, &out->elevation_rad);
}

/* What the antenna's build adds, pointing to the source as it is refracted. */
static void add_antenna(const view *v, wf_delay *out)
{
    const wf_delay_terms *terms = &v->model->terms;
    const wf_station *station = v->station;
    const wfi_atmosphere *air = &v->site->atmosphere;
    const wfi_weather weather = wfi_weather_at(air, v->moment->t);
    const double refracted_rad =
        out->elevation_rad +
        (terms->axis_refraction ? wfi_refraction_rad(&weather, out->elevation_rad) : 0.0);
    const double factor =
        wfi_mount_factor(station->mount, air->latitude_rad, out->azimuth_rad, refracted_rad);
    const double in_vacuum =
        wfi_mount_factor(station->mount, air->latitude_rad, out->azimuth_rad, out->elevation_rad);
    const double offset_s = station->axis_offset_m / WFI_SPEED_OF_LIGHT_M_PER_S;
    if (terms->axis_offset) {
        /* the wave reaches the antenna before the point of its fixed axis that is its position */
        out->axis_offset_s = 0.0 - offset_s * in_vacuum;
        out->axis_refraction_s = offset_s * (in_vacuum - factor);
    }
    if (terms->thermal_expansion && v->site->antenna != NULL) {
        const wf_instant warmed = wf_instant_add(v->moment->t, -STEEL_LAG_S);
        out->thermal_expansion_s =
            wfi_thermal_expansion_s(v->site->antenna, station->axis_offset_m, factor, refracted_rad,
                                    wfi_weather_at(air, warmed).temperature_c);
    }
}

/* Station against geocentre, the delay in the air is simply added: the product of geometry and
 * atmosphere (eq. 11.11) comes about when baselines are formed at the arrival at their first
 * station. */
static void add_troposphere(const view *v, wf_delay *out)
{
    const wf_delay_terms *terms = &v->model->terms;
    const wfi_troposphere air = wfi_troposphere_at(&v->site->atmosphere, v->moment->t,
                                                   out->azimuth_rad, out->elevation_rad);
    if (terms->troposphere_hydrostatic)
        out->troposphere_hydrostatic_s = air.hydrostatic_s;
    if (terms->troposphere_wet)
        out->troposphere_wet_s = air.wet_s;
    if (terms->troposphere_gradients)
        out->troposphere_gradients_s = air.gradients_s;
}

static double sum_s(const wf_delay *d)
{
    double sum = 0.0;
#define ADD(name, on, heading, text) sum += d->name##_s;
    WF_DELAY_SHARES(ADD)
#undef ADD
    return d->geometry_s + sum; /* the small ones first: they lose nothing */
}

/* The delay is linear in so small a change of the direction. */
static double galactic_s(const view *v)
{
    return -wfi_dot(v->moment->galactic, v->sight.position_m) /
           (WFI_SPEED_OF_LIGHT_M_PER_S * v->sight.denominator);
}

/* All terms of the model. */
static wf_status add_terms(view *v, const wfi_displacement *m, wf_delay *out, wf_error *err)
{
    double way_s = 0.0;
    if (!is_ordinary(v))
        WFI_TRY(solve_light_time(v, &way_s, err));
    wfi_geometry(&v->sight, &v->moment->ephemeris);
    if (v->orbit->n_rows == 0) {
        add_moves(v, m, out);
        add_rotation(v, out);
    }
    out->galactic_aberration_s = galactic_s(v);
    out->geometry_s = is_ordinary(v) ? turned_s(v, v->moment->bare) - out->galactic_aberration_s
                                     : way_s - sum_s(out);
    add_gravity(v, out);
    look(v, out);
    if (v->orbit->n_rows == 0) {
        add_antenna(v, out);
        add_troposphere(v, out);
    }
    out->tau_s = sum_s(out);
    return WF_OK;
}

wf_status wfi_delay_at(const wf_delay_model *model, size_t i_station, const wfi_moment *moment,
                       wf_delay *out, wf_error *err)
{
    const wfi_delay_table *table = &model->tables[i_station];
    view v = {.model = model,
              .station = &model->stations[i_station],
              .site = &model->sites[i_station],
              .orbit = &model->orbits[i_station],
              .moment = moment};
    wfi_displacement m;
    *out = (wf_delay){0};
    memcpy(v.sight.source, moment->wave.direction, sizeof v.sight.source);
    memcpy(v.sight.frame_velocity_m_per_s, moment->wave.frame_velocity,
           sizeof v.sight.frame_velocity_m_per_s);
    WFI_TRY(place_station(&v, &m, err));
    wfi_uvw(&v.sight, moment->right_ascension_rad, moment->declination_rad, out->uvw_m);
    if (table->n_rows > 0) {
        WFI_TRY(wfi_delay_table_evaluate(table, moment->t, &out->table_s, err));
        out->tau_s = out->table_s;
        look(&v, out);
    } else {
        WFI_TRY(add_terms(&v, &m, out, err));
    }
    if (model->terms.clock)
        out->clock_ahead_s = wfi_clock_ahead_s(&v.station->clock, moment->t, out->tau_s);
    return WF_OK;
}

wf_status wf_delay_evaluate(const wf_delay_model *model, size_t i_station, size_t i_source,
                            wf_instant t, wf_delay *out, wf_error *err)
{
    *out = (wf_delay){0};
    if (i_station >= model->n_stations || i_source >= model->n_sources)
        return wfi_fail(err, WF_ARGUMENT, "the delay model has no station %zu or source %zu",
                        i_station, i_source);
    wfi_moment moment;
    WFI_TRY(wfi_moment_set(&moment, model, i_source, t, err));
    return wfi_delay_at(model, i_station, &moment, out, err);
}

static wf_status evaluate_wanted(const wf_delay_model *model, size_t i_source, wf_instant t,
                                 const bool *is_wanted, wf_delay *out, wf_error *err)
{
    wfi_moment moment;
    WFI_TRY(wfi_moment_set(&moment, model, i_source, t, err));
    for (size_t i = 0; i < model->n_stations; i++) {
        out[i] = (wf_delay){0};
        if (is_wanted == NULL || is_wanted[i])
            WFI_TRY(wfi_delay_at(model, i, &moment, &out[i], err));
    }
    return WF_OK;
}

/* `out` is room to work in. */
static wf_status add_rates(const wf_delay_model *model, size_t i_source, wf_instant t,
                           const bool *is_wanted, wf_delay *out, double *rate_s_per_s,
                           wf_error *err)
{
    static const double HALF_STEP_S = 0.5;
    for (int sign = -1; sign <= 1; sign += 2) {
        WFI_TRY(evaluate_wanted(model, i_source, wf_instant_add(t, sign * HALF_STEP_S), is_wanted,
                                out, err));
        for (size_t i = 0; i < model->n_stations; i++) {
            const double total_s = out[i].tau_s + out[i].clock_ahead_s;
            rate_s_per_s[i] =
                sign < 0 ? total_s : (total_s - rate_s_per_s[i]) / (2.0 * HALF_STEP_S);
        }
    }
    return WF_OK;
}

wf_status wf_delay_evaluate_all(const wf_delay_model *model, size_t i_source, wf_instant t,
                                const bool *is_wanted, wf_delay *out, double *rate_s_per_s,
                                wf_error *err)
{
    if (i_source >= model->n_sources)
        return wfi_fail(err, WF_ARGUMENT, "the delay model has no source %zu", i_source);
    if (rate_s_per_s != NULL)
        WFI_TRY(add_rates(model, i_source, t, is_wanted, out, rate_s_per_s, err));
    return evaluate_wanted(model, i_source, t, is_wanted, out, err);
}
