/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The delay of a station, term by term: here all terms come together. */
#include <whitefringe/delay.h>

#include "base/status.h"
#include "delay/clock.h"
#include "delay/geometry.h"
#include "delay/gravity.h"
#include "delay/moment.h"
#include "delay/vector.h"

/* One station at one moment, looking at one source. */
typedef struct view {
    const wf_delay_model *model;
    const wf_station *station;
    const wfi_site *site;
    const wfi_moment *moment;
    wfi_sight sight;
} view;

/* Where the station is, and what moved it there. */
static void place_station(view *v, wfi_displacement *m)
{
    wfi_displacement_at(m, v->site, &v->model->terms, &v->moment->tides);
    for (int i = 0; i < 3; i++)
        v->sight.position_itrf_m[i] = v->site->position_itrf_m[i] + m->station_velocity[i] +
                                      m->post_seismic[i] + m->solid_tide[i] + m->pole_tide[i] +
                                      m->ocean_loading[i] + m->ocean_pole_tide[i];
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

static void add_geometry(const view *v, const wfi_displacement *m, wf_delay *out)
{
    const wfi_moment *moment = v->moment;
    out->geometry_s = turned_s(v, moment->bare);
    out->celestial_pole_offsets_s = turned_s(v, moment->part[WFI_CELESTIAL_POLE_OFFSETS]);
    out->ut1_zonal_tides_s = turned_s(v, moment->part[WFI_UT1_ZONAL_TIDES]);
    out->libration_s = turned_s(v, moment->part[WFI_LIBRATION]);
    out->subdaily_rotation_s = turned_s(v, moment->part[WFI_SUBDAILY_ROTATION]);
    out->station_velocity_s = move_s(v, m->station_velocity);
    out->post_seismic_s = move_s(v, m->post_seismic);
    out->solid_tide_s = move_s(v, m->solid_tide);
    out->pole_tide_s = move_s(v, m->pole_tide);
    out->ocean_loading_s = move_s(v, m->ocean_loading);
    out->ocean_pole_tide_s = move_s(v, m->ocean_pole_tide);
}

static void add_gravity(const view *v, wf_delay *out)
{
    const wf_delay_terms *terms = &v->model->terms;
    const wfi_ephemeris *ephemeris = &v->moment->ephemeris;
    const double scale = 1.0 / v->sight.denominator;
    if (terms->gravity_sun)
        out->gravity_sun_s = wfi_gravity_sun_s(&v->sight, ephemeris) * scale;
    if (terms->gravity_planets)
        out->gravity_planets_s = wfi_gravity_planets_s(&v->sight, ephemeris) * scale;
    if (terms->gravity_earth)
        out->gravity_earth_s = wfi_gravity_earth_s(&v->sight) * scale;
}

static double sum_s(const wf_delay *d)
{
    double sum = 0.0;
#define ADD(name, on, heading, text) sum += d->name##_s;
    WF_DELAY_SHARES(ADD)
#undef ADD
    return d->geometry_s + sum; /* the small ones first: they lose nothing */
}

wf_status wfi_delay_at(const wf_delay_model *model, size_t i_station, size_t i_source,
                       const wfi_moment *moment, wf_delay *out, wf_error *err)
{
    const wf_source *source = &model->sources[i_source];
    const wfi_delay_table *table = &model->tables[i_station];
    view v = {.model = model,
              .station = &model->stations[i_station],
              .site = &model->sites[i_station],
              .moment = moment};
    wfi_displacement m;
    *out = (wf_delay){0};
    wfi_source_direction(source->right_ascension_icrf_rad, source->declination_icrf_rad,
                         v.sight.source);
    place_station(&v, &m);
    wfi_geometry(&v.sight, &moment->earth, &moment->ephemeris);
    wfi_uvw(&v.sight, source->right_ascension_icrf_rad, source->declination_icrf_rad, out->uvw_m);
    wfi_horizon(&v.sight, &moment->earth, &moment->ephemeris, &out->azimuth_rad,
                &out->elevation_rad);
    if (table->n_rows > 0) {
        WFI_TRY(wfi_delay_table_evaluate(table, moment->t, &out->table_s, err));
        out->tau_s = out->table_s;
    } else {
        add_geometry(&v, &m, out);
        add_gravity(&v, out);
        out->tau_s = sum_s(out);
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
    WFI_TRY(wfi_moment_set(&moment, model, t, err));
    return wfi_delay_at(model, i_station, i_source, &moment, out, err);
}

static wf_status evaluate_wanted(const wf_delay_model *model, size_t i_source, wf_instant t,
                                 const bool *is_wanted, wf_delay *out, wf_error *err)
{
    wfi_moment moment;
    WFI_TRY(wfi_moment_set(&moment, model, t, err));
    for (size_t i = 0; i < model->n_stations; i++) {
        out[i] = (wf_delay){0};
        if (is_wanted == NULL || is_wanted[i])
            WFI_TRY(wfi_delay_at(model, i, i_source, &moment, &out[i], err));
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
