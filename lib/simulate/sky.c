/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loading a sky: the job's keys through the job's own reader, then what is the sky's. */
#include "simulate/sky.h"

#include <erfam.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

static const wfi_quantity SEED = {
    .expected = "a whole number from 0 to 9007199254740992", .least = 0.0, .most = 0x1p53};
static const wfi_quantity OFFSET = {.expected = "an offset in arcsec, within +-36000",
                                    .least = -36000.0,
                                    .most = 36000.0,
                                    .remedy = "name a source of its own for what is farther away"};
static const wfi_quantity CORRELATION = {
    .expected = "a correlation coefficient from 0 to 1", .least = 0.0, .most = 1.0};
static const wfi_quantity COHERENCE = {
    .expected = "a part of a complex coherence, within +-1", .least = -1.0, .most = 1.0};
static const wfi_quantity FREQUENCY = {
    .expected = "a sky frequency in Hz from 0 to 1e13", .least = 0.0, .most = 1e13};
static const wfi_quantity WIDTH = {
    .expected = "a width in Hz above 0", .least = 0.0, .most = 1e13, .above_least = true};
/* The track of a scan reaches one second beyond it. */
static const wfi_quantity AHEAD = {
    .expected = "a time in s, within +-0.4", .least = -0.4, .most = 0.4};
static const wfi_quantity RATE = {
    .expected = "a clock rate in s/s, within +-1e-6", .least = -1e-6, .most = 1e-6};

typedef struct loader {
    wf_sky *sky;
    const wfi_document *document;
    wf_error *err;
} loader;

/* The job's own reader sees the recordings without the keys that say how to write them. */
static wf_status build_observation(const loader *load)
{
    wfi_raw_sky_file *const raw = load->sky->raw;
    wfi_raw_recording *recordings = NULL;
    WFI_TRY(wfi_allocate(&recordings, raw->recordings_count, sizeof *recordings, "recordings",
                         load->err));
    for (size_t i = 0; i < raw->recordings_count; i++)
        recordings[i] = raw->recordings[i].job;
    wfi_raw_job job = raw->job;
    job.recordings = recordings;
    job.recordings_count = raw->recordings_count;
    const wf_status status =
        wfi_observation_from_raw(&load->sky->observation, &job, load->document, load->err);
    wfi_free(recordings);
    return status;
}

static wf_status read_line(const wfi_place *component, const wfi_raw_line *raw, wfi_line *line)
{
    const wfi_place place =
        wfi_place_at(component->document, component->err, "%s.line", component->path);
    WFI_TRY(wfi_read_number(&place, "centre_hz", raw->centre_hz, &FREQUENCY, &line->centre_hz));
    return wfi_read_number(&place, "width_hz", raw->width_hz, &WIDTH, &line->width_hz);
}

static wf_status read_cross_hand(const wfi_place *place, char *const text[2], double complex *out)
{
    double part[2];
    WFI_TRY(wfi_read_number(place, "cross_hand[0]", text[0], &COHERENCE, &part[0]));
    WFI_TRY(wfi_read_number(place, "cross_hand[1]", text[1], &COHERENCE, &part[1]));
    *out = part[0] + I * part[1];
    if (cabs(*out) > 1.0)
        return wfi_place_fail(place, "cross_hand",
                              "the coherence of two hands is at most 1, found |%.6g %+.6g i| = "
                              "%.6g",
                              part[0], part[1], cabs(*out));
    return WF_OK;
}

static wf_status read_component(const loader *load, size_t k, wfi_component *component)
{
    const wfi_raw_component *const raw = &load->sky->raw->sky->components[k];
    const wfi_place place = wfi_place_at(load->document, load->err, "sky.components[%zu]", k);
    const wfi_names sources = wfi_source_names(load->sky->observation);
    WFI_TRY(wfi_read_reference(&place, "source", raw->source, &sources, &component->i_source));
    if (raw->east_arcsec != NULL)
        WFI_TRY(
            wfi_read_number(&place, "east_arcsec", raw->east_arcsec, &OFFSET, &component->east));
    if (raw->north_arcsec != NULL)
        WFI_TRY(
            wfi_read_number(&place, "north_arcsec", raw->north_arcsec, &OFFSET, &component->north));
    component->east *= ERFA_DAS2R;
    component->north *= ERFA_DAS2R;
    WFI_TRY(wfi_read_number(&place, "correlation", raw->correlation, &CORRELATION,
                            &component->correlation));
    if (raw->cross_hand != NULL)
        WFI_TRY(read_cross_hand(&place, raw->cross_hand, &component->cross_hand));
    component->has_line = raw->line != NULL;
    return component->has_line ? read_line(&place, raw->line, &component->line) : WF_OK;
}

static wf_status check_sum(const loader *load, size_t i_source)
{
    size_t first, end;
    wfi_components_of(load->sky->components, load->sky->n_components, i_source, &first, &end);
    double sum = 0.0;
    for (size_t k = first; k < end; k++)
        sum += load->sky->components[k].correlation;
    if (sum <= 1.0 + 1e-12)
        return WF_OK;
    const wfi_place place = wfi_place_at(load->document, load->err, "sky");
    return wfi_place_fail(&place, "components",
                          "the correlations of source %s add up to %.6g: at most 1, the whole "
                          "power of a station, is to be shared",
                          load->sky->observation->sources[i_source].name, sum);
}

static wf_status read_components(const loader *load)
{
    wf_sky *const sky = load->sky;
    const size_t n = sky->raw->sky->components_count;
    wfi_component *as_listed = NULL;
    WFI_TRY(wfi_allocate(&as_listed, n, sizeof *as_listed, "components", load->err));
    wf_status status =
        wfi_allocate(&sky->components, n, sizeof *sky->components, "components", load->err);
    for (size_t k = 0; k < n && status == WF_OK; k++)
        status = read_component(load, k, &as_listed[k]);
    for (size_t i = 0; i < sky->observation->n_sources && status == WF_OK; i++) {
        for (size_t k = 0; k < n; k++)
            if (as_listed[k].i_source == i)
                sky->components[sky->n_components++] = as_listed[k];
        status = check_sum(load, i);
    }
    wfi_free(as_listed);
    return status;
}

/* Clocks as they are: the job's, and what the job does not know. A clock that the job leaves out
 * is 0 at the start of the first scan. */
static wf_status read_clocks(const loader *load, wf_clock *clocks)
{
    const wf_observation *const observation = load->sky->observation;
    const wfi_raw_sky_file *const raw = load->sky->raw;
    for (size_t i = 0; i < observation->n_stations; i++) {
        clocks[i] = observation->stations[i].clock;
        if (raw->job.stations[i].clock == NULL)
            clocks[i].reference = observation->scans[0].start;
    }
    const wfi_names stations = wfi_station_names(observation);
    for (size_t k = 0; k < raw->sky->clock_errors_count; k++) {
        const wfi_raw_clock_error *const error = &raw->sky->clock_errors[k];
        const wfi_place place = wfi_place_at(load->document, load->err, "sky.clock_errors[%zu]", k);
        size_t i = 0;
        double ahead_s = 0.0, rate = 0.0;
        WFI_TRY(wfi_read_reference(&place, "station", error->station, &stations, &i));
        WFI_TRY(wfi_read_number(&place, "ahead_s", error->ahead_s, &AHEAD, &ahead_s));
        if (error->rate_s_per_s != NULL)
            WFI_TRY(wfi_read_number(&place, "rate_s_per_s", error->rate_s_per_s, &RATE, &rate));
        clocks[i].ahead_s += ahead_s;
        clocks[i].rate_s_per_s += rate;
    }
    return WF_OK;
}

static wf_status aim(const loader *load)
{
    wf_sky *const sky = load->sky;
    wf_clock *clocks = NULL;
    WFI_TRY(
        wfi_allocate(&clocks, sky->observation->n_stations, sizeof *clocks, "clocks", load->err));
    wf_status status = read_clocks(load, clocks);
    if (status == WF_OK) {
        status = wfi_directions_create(&sky->directions, sky->observation, sky->components,
                                       sky->n_components, clocks, load->err);
        if (status != WF_OK)
            wfi_prefix(load->err, "%s: ", sky->path);
    }
    wfi_free(clocks);
    return status;
}

static wf_status read_styles(const loader *load)
{
    wf_sky *const sky = load->sky;
    const size_t n = sky->observation->n_recordings;
    WFI_TRY(wfi_allocate(&sky->styles, n, sizeof *sky->styles, "recordings", load->err));
    for (size_t i = 0; i < n; i++) {
        const wfi_place place = wfi_place_at(load->document, load->err, "recordings[%zu]", i);
        WFI_TRY(wfi_style_read(&sky->styles[i], &place, &sky->raw->recordings[i],
                               &sky->observation->recordings[i]));
        for (size_t j = 0; j < i; j++)
            if (strcmp(wfi_sky_file_name(sky, i), wfi_sky_file_name(sky, j)) == 0)
                return wfi_place_fail(&place, "files",
                                      "recordings[%zu] writes %s too: name another", j,
                                      wfi_sky_file_name(sky, i));
    }
    return WF_OK;
}

static wf_status cut_cells(const loader *load)
{
    const wf_observation *const observation = load->sky->observation;
    size_t n = 0;
    for (size_t i = 0; i < observation->n_recordings; i++)
        n += observation->recordings[i].n_streams;
    wfi_range *ranges = NULL;
    WFI_TRY(wfi_allocate(&ranges, n, sizeof *ranges, "recorded bands", load->err));
    n = 0;
    for (size_t i = 0; i < observation->n_recordings; i++) {
        const wf_recording_entry *const entry = &observation->recordings[i];
        for (size_t k = 0; k < entry->n_streams; k++)
            ranges[n++] =
                wfi_stream_range(&entry->streams[k], entry->sample_rate_hz, entry->sampling);
    }
    const wf_status status = wfi_cells_create(&load->sky->cells, ranges, n, load->err);
    wfi_free(ranges);
    return status;
}

static wf_status plan(const loader *load)
{
    wf_sky *const sky = load->sky;
    const size_t n = sky->observation->n_recordings;
    WFI_TRY(wfi_allocate(&sky->schedules, n, sizeof *sky->schedules, "schedules", load->err));
    for (size_t i = 0; i < n; i++) {
        const wf_status status = wfi_schedule_create(
            &sky->schedules[i], sky->observation, &sky->directions, i, &sky->styles[i], load->err);
        if (status != WF_OK) {
            wfi_prefix(load->err, "%s: recordings[%zu]: ", sky->path, i);
            return status;
        }
    }
    return WF_OK;
}

static wf_status build(const loader *load)
{
    const wfi_place place = wfi_place_at(load->document, load->err, "sky");
    int64_t seed = 0;
    WFI_TRY(build_observation(load));
    WFI_TRY(wfi_read_count(&place, "seed", load->sky->raw->sky->seed, &SEED, &seed));
    load->sky->seed = (uint64_t)seed;
    WFI_TRY(read_components(load));
    WFI_TRY(read_styles(load));
    WFI_TRY(cut_cells(load));
    WFI_TRY(aim(load));
    return plan(load);
}

wf_status wf_sky_load(wf_sky **out, const char *path, wf_error *err)
{
    *out = NULL;
    wfi_document *document = NULL;
    wf_sky *sky = NULL;
    wf_status status = wfi_document_open(&document, path, err);
    if (status == WF_OK)
        status = wfi_allocate(&sky, 1, sizeof *sky, "a sky", err);
    if (status == WF_OK)
        status = wfi_string_copy(&sky->path, path, err);
    if (status == WF_OK)
        status = wfi_document_load(&sky->raw, document, &wfi_sky_schema, err);
    if (status == WF_OK)
        status = build(&(loader){sky, document, err});
    wfi_document_close(document);
    if (status != WF_OK) {
        wf_sky_destroy(sky);
        return status;
    }
    *out = sky;
    return WF_OK;
}

void wf_sky_destroy(wf_sky *sky)
{
    if (sky == NULL)
        return;
    const size_t n_recordings = sky->observation != NULL ? sky->observation->n_recordings : 0;
    for (size_t i = 0; i < n_recordings && sky->styles != NULL; i++)
        wfi_style_release(&sky->styles[i]);
    for (size_t i = 0; i < n_recordings && sky->schedules != NULL; i++)
        wfi_schedule_release(&sky->schedules[i]);
    wfi_free(sky->styles);
    wfi_free(sky->schedules);
    wfi_free(sky->components);
    wfi_cells_release(&sky->cells);
    wfi_directions_release(&sky->directions);
    wf_observation_destroy(sky->observation);
    wfi_document_release(sky->raw, &wfi_sky_schema);
    wfi_free(sky->path);
    wfi_free(sky);
}

size_t wf_sky_n_recordings(const wf_sky *sky)
{
    return sky->observation->n_recordings;
}

const char *wfi_sky_file_name(const wf_sky *sky, size_t i_recording)
{
    return sky->raw->recordings[i_recording].job.files[0];
}

wf_status wfi_path_in_folder(char **out, const char *folder, const char *name, wf_error *err)
{
    const size_t n_bytes = strlen(folder) + strlen(name) + 2;
    WFI_TRY(wfi_allocate(out, n_bytes, 1, "a path", err));
    snprintf(*out, n_bytes, "%s/%s", folder, name);
    return WF_OK;
}
