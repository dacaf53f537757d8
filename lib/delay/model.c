/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The delay of every station: what is needed is loaded and checked, then evaluated term by term. */
#include "delay/model.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/clock.h"
#include "delay/earth.h"
#include "delay/ephemeris.h"
#include "delay/geometry.h"
#include "delay/gravity.h"
#include "delay/site.h"
#include "delay/vector.h"

static const double SCAN_MARGIN_S = 1.0;

/* Distances from the geocentre that ground stations can have: the poles are at 6357 km, the
 * equator at 6378 km. */
static const double NEAREST_STATION_M = 6.34e6;
static const double FARTHEST_STATION_M = 6.40e6;

wf_instant wfi_scan_first(const wf_scan *scan)
{
    return wf_instant_add(scan->start, -SCAN_MARGIN_S);
}

wf_instant wfi_scan_last(const wf_scan *scan)
{
    return wf_instant_add(scan->start, scan->duration_s + SCAN_MARGIN_S);
}

static wf_status copy_values(wf_delay_model *model, const wf_observation *observation,
                             wf_error *err)
{
    model->terms = observation->delay_terms;
    model->n_stations = observation->n_stations;
    model->n_sources = observation->n_sources;
    model->n_scans = observation->n_scans;
    WFI_TRY(wfi_allocate(&model->stations, model->n_stations, sizeof model->stations[0],
                         "the delay model's stations", err));
    WFI_TRY(wfi_allocate(&model->tables, model->n_stations, sizeof model->tables[0],
                         "the delay tables", err));
    WFI_TRY(wfi_allocate(&model->sources, model->n_sources, sizeof model->sources[0],
                         "the delay model's sources", err));
    WFI_TRY(wfi_allocate(&model->scans, model->n_scans, sizeof model->scans[0],
                         "the delay model's scans", err));
    for (size_t i = 0; i < model->n_stations; i++) {
        model->stations[i] = observation->stations[i];
        model->stations[i].delay_table_path = NULL;
    }
    for (size_t i = 0; i < model->n_sources; i++)
        model->sources[i] = observation->sources[i];
    for (size_t i = 0; i < model->n_scans; i++) {
        model->scans[i] = observation->scans[i];
        model->scans[i].station_takes_part = NULL;
    }
    return WF_OK;
}

static wf_status check_modelled_station(const wf_delay_model *model, const wf_station *station,
                                        wf_error *err)
{
    if (model->eop.n_days == 0)
        return wfi_fail(err, WF_MISSING,
                        "station %s: no Earth orientation is given, and its delay does not come "
                        "from a table: state earth_orientation",
                        station->name);
    const double radius_m = wfi_length(station->position_itrf_m);
    if (!(radius_m > NEAREST_STATION_M && radius_m < FARTHEST_STATION_M))
        return wfi_fail(err, WF_FORMAT,
                        "station %s: position_itrf_m lies %.6g m from the geocentre, which is not "
                        "near the ground (6.36e6 to 6.38e6): expected metres",
                        station->name, radius_m);
    return WF_OK;
}

static wf_status load_stations(wf_delay_model *model, const wf_observation *observation,
                               wf_error *err)
{
    for (size_t i = 0; i < model->n_stations; i++) {
        const wf_station *station = &observation->stations[i];
        if (station->delay_table_path == NULL) {
            WFI_TRY(check_modelled_station(model, station, err));
            continue;
        }
        const wf_status status =
            wfi_delay_table_read(&model->tables[i], station->delay_table_path, err);
        if (status != WF_OK) {
            wfi_prefix(err, "station %s: ", station->name);
            return status;
        }
    }
    return WF_OK;
}

static wf_status check_table(const wf_delay_model *model, size_t i_station, const wf_scan *scan,
                             wf_error *err)
{
    double unused = 0;
    const wfi_delay_table *table = &model->tables[i_station];
    wf_status status = wfi_delay_table_evaluate(table, wfi_scan_first(scan), &unused, err);
    if (status == WF_OK)
        status = wfi_delay_table_evaluate(table, wfi_scan_last(scan), &unused, err);
    if (status != WF_OK)
        wfi_prefix(err, "station %s, scan %s: ", model->stations[i_station].name, scan->name);
    return status;
}

static wf_status check_eop(const wf_delay_model *model, const wf_scan *scan, wf_error *err)
{
    wfi_eop_values unused;
    wf_status status = wfi_eop_evaluate(&model->eop, wfi_scan_first(scan), &unused, err);
    if (status == WF_OK)
        status = wfi_eop_evaluate(&model->eop, wfi_scan_last(scan), &unused, err);
    if (status != WF_OK)
        wfi_prefix(err, "scan %s: ", scan->name);
    return status;
}

/* Everything that evaluation within the scans could refuse is refused here. */
static wf_status check_cover(const wf_delay_model *model, const wf_observation *observation,
                             wf_error *err)
{
    for (size_t i = 0; i < observation->n_scans; i++) {
        const wf_scan *scan = &observation->scans[i];
        if (model->eop.n_days > 0)
            WFI_TRY(check_eop(model, scan, err));
        for (size_t j = 0; j < model->n_stations; j++)
            if (model->tables[j].n_rows > 0 &&
                (scan->station_takes_part == NULL || scan->station_takes_part[j]))
                WFI_TRY(check_table(model, j, scan, err));
    }
    return WF_OK;
}

static wf_status build(wf_delay_model *model, const wf_observation *observation, wf_error *err)
{
    WFI_TRY(copy_values(model, observation, err));
    WFI_TRY(wfi_eop_load(&model->eop, &observation->earth_orientation, err));
    WFI_TRY(load_stations(model, observation, err));
    return check_cover(model, observation, err);
}

wf_status wf_delay_model_create(wf_delay_model **out, const wf_observation *observation,
                                wf_error *err)
{
    *out = NULL;
    wf_delay_model *model = NULL;
    WFI_TRY(wfi_allocate(&model, 1, sizeof *model, "the delay model", err));
    const wf_status status = build(model, observation, err);
    if (status != WF_OK) {
        wf_delay_model_destroy(model);
        return status;
    }
    *out = model;
    return WF_OK;
}

void wf_delay_model_destroy(wf_delay_model *model)
{
    if (model == NULL)
        return;
    if (model->tables != NULL)
        for (size_t i = 0; i < model->n_stations; i++)
            wfi_delay_table_release(&model->tables[i]);
    wfi_eop_release(&model->eop);
    wfi_free(model->tables);
    wfi_free(model->stations);
    wfi_free(model->sources);
    wfi_free(model->scans);
    wfi_free(model);
}

/* Without Earth orientation, possible where all delays come from tables, the Earth turns by UTC
 * about its mean pole: u,v,w and elevations then hold to 1e-4. */
static wf_status orient(const wf_delay_model *model, wf_instant t, wfi_earth *earth, wf_error *err)
{
    wfi_eop_values eop = {.ut1_minus_tai_s = -wf_tai_minus_utc_s(t)};
    if (model->eop.n_days > 0)
        WFI_TRY(wfi_eop_evaluate(&model->eop, t, &eop, err));
    wfi_earth_orient(earth, t, &eop);
    return WF_OK;
}

/* The terms of the model; a switched-off one stays 0. */
static void add_terms(const wf_delay_terms *terms, const wfi_sight *sight,
                      const wfi_ephemeris *ephemeris, wf_delay *out)
{
    const double scale = 1.0 / sight->denominator;
    out->geometry_s = sight->numerator_geometry_s * scale;
    if (terms->gravity_sun)
        out->gravity_sun_s = wfi_gravity_sun_s(sight, ephemeris) * scale;
    if (terms->gravity_planets)
        out->gravity_planets_s = wfi_gravity_planets_s(sight, ephemeris) * scale;
    if (terms->gravity_earth)
        out->gravity_earth_s = wfi_gravity_earth_s(sight) * scale;
    out->tau_s =
        out->geometry_s + out->gravity_sun_s + out->gravity_planets_s + out->gravity_earth_s;
}

wf_status wf_delay_evaluate(const wf_delay_model *model, size_t i_station, size_t i_source,
                            wf_instant t, wf_delay *out, wf_error *err)
{
    *out = (wf_delay){0};
    if (i_station >= model->n_stations || i_source >= model->n_sources)
        return wfi_fail(err, WF_ARGUMENT, "the delay model has no station %zu or source %zu",
                        i_station, i_source);
    const wf_station *station = &model->stations[i_station];
    const wf_source *source = &model->sources[i_source];
    const double right_ascension = source->right_ascension_icrf_rad;
    const double declination = source->declination_icrf_rad;
    wfi_earth earth;
    WFI_TRY(orient(model, t, &earth, err));
    wfi_ephemeris ephemeris;
    wfi_ephemeris_at(&ephemeris, earth.tt_jd);
    wfi_sight sight = {0};
    wfi_source_direction(right_ascension, declination, sight.source);
    wfi_site_position(station, &model->terms, t, sight.position_itrf_m);
    wfi_geometry(&sight, &earth, &ephemeris);
    wfi_uvw(&sight, right_ascension, declination, out->uvw_m);
    wfi_horizon(&sight, &earth, &ephemeris, &out->azimuth_rad, &out->elevation_rad);
    if (model->tables[i_station].n_rows > 0) {
        WFI_TRY(wfi_delay_table_evaluate(&model->tables[i_station], t, &out->table_s, err));
        out->tau_s = out->table_s;
    } else {
        add_terms(&model->terms, &sight, &ephemeris, out);
    }
    if (model->terms.clock)
        out->clock_ahead_s = wfi_clock_ahead_s(&station->clock, t, out->tau_s);
    return WF_OK;
}
