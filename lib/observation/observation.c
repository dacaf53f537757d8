/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job as a whole: loading, freeing, and what follows from its numbers. */
#include <whitefringe/observation.h>

#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

static wf_status build_all(const wfi_build *build)
{
    const wfi_place whole = wfi_place_at(build->document, build->err, "%s", "");
    WFI_TRY(wfi_read_name(&whole, "campaign", build->raw->campaign, WFI_OTHER_NAME_MAX, NULL,
                          build->observation->campaign));
    WFI_TRY(wfi_build_stations(build));
    WFI_TRY(wfi_build_sources(build));
    WFI_TRY(wfi_build_bands(build));
    WFI_TRY(wfi_build_scans(build));
    WFI_TRY(wfi_build_recordings(build));
    WFI_TRY(wfi_build_correlation(build));
    WFI_TRY(wfi_build_kurtosis(build));
    WFI_TRY(wfi_build_delay_terms(build));
    WFI_TRY(wfi_build_exclusions(build));
    WFI_TRY(wfi_build_tides(build));
    WFI_TRY(wfi_build_earth_orientation(build));
    return wfi_check_scans(build);
}

wf_status wfi_observation_from_raw(wf_observation **out, const wfi_raw_job *raw,
                                   const wfi_document *document, wf_error *err)
{
    *out = NULL;
    wf_observation *observation = NULL;
    WFI_TRY(wfi_allocate(&observation, 1, sizeof *observation, "an observation", err));
    const wfi_build build = {raw, document, err, observation};
    const wf_status status = build_all(&build);
    if (status != WF_OK) {
        wf_observation_destroy(observation);
        return status;
    }
    *out = observation;
    return WF_OK;
}

wf_status wfi_observation_from_document(wf_observation **out, const wfi_document *document,
                                        wf_error *err)
{
    *out = NULL;
    wfi_raw_job *raw = NULL;
    wf_status status = wfi_document_load(&raw, document, &wfi_job_schema, err);
    if (status == WF_OK)
        status = wfi_observation_from_raw(out, raw, document, err);
    wfi_document_release(raw, &wfi_job_schema);
    return status;
}

wf_status wf_observation_load(wf_observation **out, const char *path, wf_error *err)
{
    *out = NULL;
    wfi_document *document = NULL;
    WFI_TRY(wfi_document_open(&document, path, err));
    const wf_status status = wfi_observation_from_document(out, document, err);
    wfi_document_close(document);
    return status;
}

wf_status wf_observation_load_text(wf_observation **out, const char *path, const char *text,
                                   size_t n, wf_error *err)
{
    *out = NULL;
    wfi_document *document = NULL;
    WFI_TRY(wfi_document_parse(&document, path, text, n, err));
    const wf_status status = wfi_observation_from_document(out, document, err);
    wfi_document_close(document);
    return status;
}

static void free_recording(const wf_recording_entry *entry)
{
    for (size_t k = 0; k < entry->n_paths; k++)
        wfi_free(entry->paths[k]);
    wfi_free(entry->paths);
    for (size_t k = 0; entry->streams != NULL && k < entry->n_streams; k++)
        wfi_free(entry->streams[k].excluded);
    wfi_free(entry->streams);
}

static void free_exclusion(const wf_exclusion *exclusion)
{
    wfi_free(exclusion->stations);
    wfi_free(exclusion->bands);
    wfi_free(exclusion->reason);
}

static void free_station(const wf_station *station)
{
    wfi_free(station->delay_table_path);
    wfi_free(station->orbit.path);
    wfi_free(station->post_seismic);
    wfi_free(station->ocean_pole_tide);
    wfi_free(station->antenna);
    wfi_free(station->weather);
    wfi_free(station->mapping);
}

void wf_observation_destroy(wf_observation *observation)
{
    if (observation == NULL)
        return;
    for (size_t i = 0; i < observation->n_stations; i++)
        free_station(&observation->stations[i]);
    for (size_t i = 0; i < observation->n_sources; i++)
        wfi_free(observation->sources[i].track.path);
    for (size_t i = 0; i < observation->n_scans; i++)
        wfi_free(observation->scans[i].station_takes_part);
    for (size_t i = 0; i < observation->n_recordings; i++)
        free_recording(&observation->recordings[i]);
    for (size_t i = 0; i < observation->n_exclusions; i++)
        free_exclusion(&observation->exclusions[i]);
    wfi_free(observation->exclusions);
    wfi_free(observation->stations);
    wfi_free(observation->sources);
    wfi_free(observation->scans);
    wfi_free(observation->bands);
    wfi_free(observation->recordings);
    wfi_free(observation->ocean_loading_blq_path);
    wfi_free(observation->gpt2_grid_path);
    wfi_free(observation->earth_orientation.path);
    wfi_free(observation->earth_orientation.days);
    wfi_free(observation);
}

double wf_channel_width_hz(const wf_observation *observation)
{
    return observation->bands[0].bandwidth_hz / (double)observation->correlation.n_channels;
}

double wf_band_first_channel_hz(const wf_observation *observation, size_t i_band)
{
    const wf_band *band = &observation->bands[i_band];
    if (band->sideband == WF_SIDEBAND_UPPER)
        return band->edge_hz;
    return band->edge_hz - band->bandwidth_hz + wf_channel_width_hz(observation);
}

void wf_stream_format(char text[WF_STREAM_TEXT_BYTES], const wf_stream *stream)
{
    snprintf(text, WF_STREAM_TEXT_BYTES, "%.9g MHz %s %c", 1e-6 * stream->anchor_hz,
             stream->sideband == WF_SIDEBAND_UPPER ? "upper" : "lower",
             wf_polarization_letter(stream->polarization));
}

char wf_polarization_letter(wf_polarization polarization)
{
    static const char letters[] = "RLXY";
    const unsigned i = (unsigned)polarization;
    return i < sizeof letters - 1 ? letters[i] : '?';
}
