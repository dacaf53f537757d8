/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rays: which component reaches which stream in which cell of sky frequency, and how strongly.
 *
 * Correlation coefficient rho is the power of the component over that of the whole system, per
 * hertz. Of a stream that is W wide, a cell of width w is w/W; a line fills the mean of its profile
 * of that. Receivers fill up the stream's variance to 1.
 */
#include "simulate/hearing.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* Random sequences: receivers have the highest bit, common noise has not. */
static uint64_t common_identity(size_t i_component, size_t i_cell)
{
    return (uint64_t)i_component << 40 | (uint64_t)i_cell;
}

static uint64_t receiver_identity(size_t i_recording, size_t i_stream)
{
    return UINT64_C(1) << 63 | (uint64_t)i_recording << 32 | (uint64_t)i_stream;
}

static int hand_of(wf_polarization polarization)
{
    return polarization == WF_POLARIZATION_L || polarization == WF_POLARIZATION_Y;
}

/* What a recording and a passage have in common for all streams. */
typedef struct scene {
    wfi_noise_bench *bench;
    const wf_sky *sky;
    const wf_recording_entry *entry;
    size_t i_recording;
    size_t first_component;
    size_t end_component;
} scene;

static wf_status add_ray(wfi_hearing *out, const scene *s, size_t i_stream, size_t i_component,
                         size_t i_cell, const wfi_range *band, wf_error *err)
{
    const wfi_component *const component = &s->sky->components[i_component];
    const wfi_range *const cell = &s->sky->cells.list[i_cell];
    const wfi_noise_recipe recipe = {
        .low_hz = cell->low_hz,
        .high_hz = cell->high_hz,
        .line = component->has_line ? &component->line : NULL,
        .seed = s->sky->seed,
        .identity = common_identity(i_component, i_cell),
        .hand = hand_of(s->entry->streams[i_stream].polarization),
        .coherence = component->cross_hand,
    };
    wfi_ray *const ray = &out->rays[out->n_rays];
    WFI_TRY(wfi_noise_create(&ray->noise, s->bench, &recipe, err));
    out->n_rays++;
    const double power =
        component->correlation * (cell->high_hz - cell->low_hz) / (band->high_hz - band->low_hz);
    ray->track = out->tracks[i_component - s->first_component];
    ray->gain = sqrt(power);
    out->receptions[i_stream].n_rays++;
    out->receptions[i_stream].noise_power -= power * wfi_noise_variance(ray->noise);
    return WF_OK;
}

static wf_status point_stream(wfi_hearing *out, const scene *s, size_t i_stream, wf_error *err)
{
    const wf_recording_entry *const entry = s->entry;
    const wf_stream *const stream = &entry->streams[i_stream];
    const wfi_range band = wfi_stream_range(stream, entry->sample_rate_hz, entry->sampling);
    out->receivers[i_stream] = (wfi_receiver){
        .zero_hz = wfi_stream_zero_hz(stream, entry->sample_rate_hz, entry->sampling),
        .sideband = stream->sideband,
        .is_complex = entry->sampling == WF_SAMPLING_COMPLEX,
        .sample_rate_hz = entry->sample_rate_hz,
        .seed = s->sky->seed,
        .identity = receiver_identity(s->i_recording, i_stream),
    };
    wfi_reception *const reception = &out->receptions[i_stream];
    *reception = (wfi_reception){.rays = out->rays + out->n_rays, .noise_power = 1.0};
    size_t first, end;
    wfi_cells_of(&s->sky->cells, &band, &first, &end);
    for (size_t k = s->first_component; k < s->end_component; k++)
        for (size_t i = first; i < end; i++)
            WFI_TRY(add_ray(out, s, i_stream, k, i, &band, err));
    /* Correlations of 1 leave 0, but for rounding. */
    reception->noise_power = fmax(reception->noise_power, 0.0);
    return WF_OK;
}

static size_t count_rays(const scene *s)
{
    size_t n = 0;
    for (size_t i = 0; i < s->entry->n_streams; i++) {
        const wfi_range band =
            wfi_stream_range(&s->entry->streams[i], s->entry->sample_rate_hz, s->entry->sampling);
        size_t first, end;
        wfi_cells_of(&s->sky->cells, &band, &first, &end);
        n += (end - first) * (s->end_component - s->first_component);
    }
    return n;
}

static wf_status allocate(wfi_hearing *out, const scene *s, wf_error *err)
{
    const char *const what = "the streams of a recording";
    const size_t n_rays = count_rays(s);
    if (n_rays > WFI_RAYS_MAX)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: %zu combinations of streams, components and pieces of the spectrum "
                        "in one scan; at most %d can be simulated: take fewer components, or "
                        "bands that begin and end together",
                        wfi_sky_file_name(s->sky, s->i_recording), n_rays, WFI_RAYS_MAX);
    out->n_streams = s->entry->n_streams;
    WFI_TRY(wfi_allocate(&out->receivers, out->n_streams, sizeof *out->receivers, what, err));
    WFI_TRY(wfi_allocate(&out->receptions, out->n_streams, sizeof *out->receptions, what, err));
    WFI_TRY(wfi_allocate(&out->rays, n_rays, sizeof *out->rays, what, err));
    return wfi_allocate(&out->tracks, s->end_component - s->first_component, sizeof *out->tracks,
                        what, err);
}

static wf_status point(wfi_hearing *out, const scene *s, const wfi_passage *passage, wf_error *err)
{
    WFI_TRY(allocate(out, s, err));
    for (size_t k = s->first_component; k < s->end_component; k++) {
        WFI_TRY(wfi_directions_track(&out->tracks[out->n_tracks], &s->sky->directions,
                                     s->entry->i_station, passage->i_scan, k, err));
        out->n_tracks++;
    }
    for (size_t i = 0; i < out->n_streams; i++)
        WFI_TRY(point_stream(out, s, i, err));
    return WF_OK;
}

wf_status wfi_hearing_create(wfi_hearing *out, wfi_noise_bench *bench, const wf_sky *sky,
                             size_t i_recording, const wfi_passage *passage, wf_error *err)
{
    *out = (wfi_hearing){0};
    scene s = {.bench = bench,
               .sky = sky,
               .entry = &sky->observation->recordings[i_recording],
               .i_recording = i_recording};
    if (passage->on_sky)
        wfi_components_of(sky->components, sky->n_components,
                          sky->observation->scans[passage->i_scan].i_source, &s.first_component,
                          &s.end_component);
    const wf_status status = point(out, &s, passage, err);
    if (status != WF_OK)
        wfi_hearing_release(out);
    return status;
}

void wfi_hearing_release(wfi_hearing *hearing)
{
    for (size_t i = 0; i < hearing->n_rays; i++)
        wfi_noise_destroy(hearing->rays[i].noise);
    for (size_t i = 0; i < hearing->n_tracks; i++)
        wf_track_destroy(hearing->tracks[i]);
    wfi_free(hearing->receivers);
    wfi_free(hearing->receptions);
    wfi_free(hearing->rays);
    wfi_free(hearing->tracks);
    *hearing = (wfi_hearing){0};
}
