/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The delay of every station: what is needed is loaded and checked. */
#include "delay/model.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/vector.h"

static const double SCAN_MARGIN_S = 1.0;

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
    model->pole_tide_reference = observation->pole_tide_reference;
    model->n_stations = observation->n_stations;
    model->n_sources = observation->n_sources;
    model->n_scans = observation->n_scans;
    WFI_TRY(wfi_allocate(&model->stations, model->n_stations, sizeof model->stations[0],
                         "the delay model's stations", err));
    WFI_TRY(wfi_allocate(&model->tables, model->n_stations, sizeof model->tables[0],
                         "the delay tables", err));
    WFI_TRY(wfi_allocate(&model->sites, model->n_stations, sizeof model->sites[0],
                         "the delay model's sites", err));
    WFI_TRY(wfi_allocate(&model->orbits, model->n_stations, sizeof model->orbits[0],
                         "the stations' orbits", err));
    WFI_TRY(wfi_allocate(&model->sources, model->n_sources, sizeof model->sources[0],
                         "the delay model's sources", err));
    WFI_TRY(wfi_allocate(&model->source_tracks, model->n_sources, sizeof model->source_tracks[0],
                         "the spacecraft's tracks", err));
    WFI_TRY(wfi_allocate(&model->scans, model->n_scans, sizeof model->scans[0],
                         "the delay model's scans", err));
    for (size_t i = 0; i < model->n_stations; i++) {
        model->stations[i] = observation->stations[i];
        model->stations[i].delay_table_path = NULL;
        model->stations[i].orbit.path = NULL;
        model->stations[i].post_seismic = NULL;
        model->stations[i].n_post_seismic = 0;
        model->stations[i].ocean_pole_tide = NULL;
        model->stations[i].antenna = NULL;
    }
    for (size_t i = 0; i < model->n_sources; i++) {
        model->sources[i] = observation->sources[i];
        model->sources[i].track.path = NULL;
    }
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
    if (station->orbit.path == NULL && !wfi_is_on_ground(radius_m))
        return wfi_fail(err, WF_FORMAT,
                        "station %s: position_itrf_m lies %.6g m from the geocentre, which is not "
                        "near the ground (6.36e6 to 6.38e6): expected metres",
                        station->name, radius_m);
    return WF_OK;
}

static wf_status load_orbit(wf_delay_model *model, const wf_station *station, size_t i_station,
                            wf_error *err)
{
    if (station->orbit.path == NULL)
        return WF_OK;
    if (station->orbit.frame != WF_STATE_GCRS)
        return wfi_fail(err, WF_FORMAT,
                        "the orbit of a station must be given in the GCRS (frame: gcrs)");
    return wfi_state_table_read(&model->orbits[i_station], &station->orbit, err);
}

static wf_status load_stations(wf_delay_model *model, const wf_observation *observation,
                               wf_error *err)
{
    for (size_t i = 0; i < model->n_stations; i++) {
        const wf_station *station = &observation->stations[i];
        if (station->delay_table_path == NULL)
            WFI_TRY(check_modelled_station(model, station, err));
        const wf_status status =
            station->delay_table_path != NULL
                ? wfi_delay_table_read(&model->tables[i], station->delay_table_path, err)
                : load_orbit(model, station, i, err);
        if (status != WF_OK) {
            wfi_prefix(err, "station %s: ", station->name);
            return status;
        }
    }
    return WF_OK;
}

static wf_status load_sources(wf_delay_model *model, const wf_observation *observation,
                              wf_error *err)
{
    for (size_t i = 0; i < model->n_sources; i++) {
        const wf_source *source = &observation->sources[i];
        if (source->track.path == NULL)
            continue;
        const wf_status status =
            wfi_state_table_read(&model->source_tracks[i], &source->track, err);
        if (status != WF_OK) {
            wfi_prefix(err, "source %s: ", source->name);
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

/* A spacecraft's or orbiting station's tables: by evaluation, for the light's way counts too. */
static wf_status check_states(const wf_delay_model *model, const wf_scan *scan, size_t i_station,
                              wf_error *err)
{
    if (model->tables[i_station].n_rows > 0 ||
        (model->orbits[i_station].n_rows == 0 && model->source_tracks[scan->i_source].n_rows == 0))
        return WF_OK;
    wf_delay unused;
    wf_status status =
        wf_delay_evaluate(model, i_station, scan->i_source, wfi_scan_first(scan), &unused, err);
    if (status == WF_OK)
        status =
            wf_delay_evaluate(model, i_station, scan->i_source, wfi_scan_last(scan), &unused, err);
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
        for (size_t j = 0; j < model->n_stations; j++) {
            if (scan->station_takes_part != NULL && !scan->station_takes_part[j])
                continue;
            if (model->tables[j].n_rows > 0)
                WFI_TRY(check_table(model, j, scan, err));
            WFI_TRY(check_states(model, scan, j, err));
        }
    }
    return WF_OK;
}

static wf_status build(wf_delay_model *model, const wf_observation *observation, wf_error *err)
{
    WFI_TRY(copy_values(model, observation, err));
    WFI_TRY(wfi_eop_load(&model->eop, &observation->earth_orientation, err));
    WFI_TRY(load_stations(model, observation, err));
    WFI_TRY(load_sources(model, observation, err));
    WFI_TRY(wfi_sites_set(model->sites, observation, err));
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
    if (model->sites != NULL)
        for (size_t i = 0; i < model->n_stations; i++)
            wfi_site_release(&model->sites[i]);
    if (model->orbits != NULL)
        for (size_t i = 0; i < model->n_stations; i++)
            wfi_state_table_release(&model->orbits[i]);
    if (model->source_tracks != NULL)
        for (size_t i = 0; i < model->n_sources; i++)
            wfi_state_table_release(&model->source_tracks[i]);
    wfi_eop_release(&model->eop);
    wfi_free(model->orbits);
    wfi_free(model->source_tracks);
    wfi_free(model->tables);
    wfi_free(model->sites);
    wfi_free(model->stations);
    wfi_free(model->sources);
    wfi_free(model->scans);
    wfi_free(model);
}
