/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the job excludes by hand, and which streams that takes. */
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

enum { LONGEST_REASON = 40 }; /* FITS-IDI's width of REASON is free; readers expect lines */

static wf_status read_members(const wfi_place *place, const char *key, char *const *texts,
                              size_t n_texts, const wfi_names *names, const bool **out)
{
    bool *members = NULL;
    WFI_TRY(wfi_allocate(&members, names->n, sizeof *members, "an exclusion", place->err));
    *out = members;
    for (size_t i = 0; texts == NULL && i < names->n; i++)
        members[i] = true;
    for (size_t k = 0; texts != NULL && k < n_texts; k++) {
        size_t i = 0;
        WFI_TRY(wfi_read_reference(place, key, texts[k], names, &i));
        members[i] = true;
    }
    return WF_OK;
}

static wf_status read_exclusion(const wfi_build *build, const wfi_place *place,
                                const wfi_raw_exclusion *raw, wf_exclusion *out)
{
    const wfi_names stations = wfi_station_names(build->observation);
    const wfi_names bands = wfi_band_names(build->observation);
    char *reason = NULL;
    WFI_TRY(read_members(place, "stations", raw->stations, raw->stations_count, &stations,
                         &out->stations));
    WFI_TRY(read_members(place, "bands", raw->bands, raw->bands_count, &bands, &out->bands));
    WFI_TRY(wfi_read_instant(place, "start", raw->start, &out->time.start));
    WFI_TRY(wfi_read_instant(place, "stop", raw->stop, &out->time.stop));
    if (wf_instant_difference_s(out->time.stop, out->time.start) <= 0)
        return wfi_place_fail(place, "stop", "is not after start; mend one of the two");
    if (strlen(raw->reason) > LONGEST_REASON)
        return wfi_place_fail(place, "reason", "is longer than %d characters; shorten it",
                              LONGEST_REASON);
    WFI_TRY(wfi_string_copy(&reason, raw->reason, place->err));
    out->reason = reason;
    return WF_OK;
}

typedef struct range {
    double low_hz;
    double high_hz;
} range;

static range band_range(const wf_band *band)
{
    if (band->sideband == WF_SIDEBAND_UPPER)
        return (range){band->edge_hz, band->edge_hz + band->bandwidth_hz};
    return (range){band->edge_hz - band->bandwidth_hz, band->edge_hz};
}

/* As wide as the sampling is known to allow; a stream that begins as a band does is that band. */
static bool stream_holds(const wf_recording_entry *entry, const wf_stream *stream,
                         const wf_band *band)
{
    const range b = band_range(band);
    if (stream->anchor == WF_ANCHOR_EDGE && stream->anchor_hz == band->edge_hz &&
        stream->sideband == band->sideband)
        return true;
    const double rate_hz = (double)entry->sample_rate_hz;
    double width_hz = entry->sampling == WF_SAMPLING_COMPLEX ? rate_hz : rate_hz / 2;
    if (width_hz <= 0)
        width_hz = band->bandwidth_hz;
    double low_hz = stream->anchor_hz - width_hz / 2;
    if (stream->anchor == WF_ANCHOR_EDGE)
        low_hz = stream->anchor_hz - (stream->sideband == WF_SIDEBAND_UPPER ? 0.0 : width_hz);
    return low_hz < b.high_hz && low_hz + width_hz > b.low_hz;
}

static bool takes(const wf_observation *o, const wf_exclusion *e, const wf_recording_entry *entry,
                  const wf_stream *stream)
{
    if (!e->stations[entry->i_station])
        return false;
    for (size_t b = 0; b < o->n_bands; b++)
        if (e->bands[b] && stream_holds(entry, stream, &o->bands[b]))
            return true;
    return false;
}

/* UTC at the station to what its clock shows. */
static wf_instant by_clock(const wf_observation *o, size_t i_station, wf_instant t)
{
    const wf_clock *clock = &o->stations[i_station].clock;
    if (!o->delay_terms.clock)
        return t;
    return wf_instant_add(t, clock->ahead_s + clock->rate_s_per_s *
                                                  wf_instant_difference_s(t, clock->reference));
}

static wf_status exclude_from(const wf_observation *o, const wf_recording_entry *entry,
                              wf_stream *stream, wf_error *err)
{
    wf_time_span *spans = NULL;
    WFI_TRY(wfi_allocate(&spans, o->n_exclusions, sizeof *spans, "exclusions", err));
    stream->excluded = spans;
    for (size_t i = 0; i < o->n_exclusions; i++) {
        const wf_exclusion *e = &o->exclusions[i];
        if (takes(o, e, entry, stream))
            spans[stream->n_excluded++] =
                (wf_time_span){by_clock(o, entry->i_station, e->time.start),
                               by_clock(o, entry->i_station, e->time.stop)};
    }
    return WF_OK;
}

static wf_status exclude_from_entry(const wf_observation *o, wf_recording_entry *entry,
                                    wf_error *err)
{
    const size_t n = entry->n_streams;
    wf_stream *streams = NULL;
    WFI_TRY(wfi_allocate(&streams, n, sizeof *streams, "streams", err));
    memcpy(streams, entry->streams, n * sizeof *streams);
    wfi_free(entry->streams);
    entry->streams = streams;
    for (size_t k = 0; k < n; k++)
        WFI_TRY(exclude_from(o, entry, &streams[k], err));
    return WF_OK;
}

/* What was built is constant: copies take its place. */
static wf_status exclude_from_recordings(wf_observation *o, wf_error *err)
{
    const size_t n = o->n_recordings;
    wf_recording_entry *entries = NULL;
    WFI_TRY(wfi_allocate(&entries, n, sizeof *entries, "recordings", err));
    memcpy(entries, o->recordings, n * sizeof *entries);
    wfi_free(o->recordings);
    o->recordings = entries;
    for (size_t r = 0; r < n; r++)
        WFI_TRY(exclude_from_entry(o, &entries[r], err));
    return WF_OK;
}

wf_status wfi_build_exclusions(const wfi_build *build)
{
    const size_t n = build->raw->exclude_count;
    wf_exclusion *exclusions = NULL;
    if (n == 0)
        return WF_OK;
    WFI_TRY(wfi_allocate(&exclusions, n, sizeof *exclusions, "exclusions", build->err));
    build->observation->exclusions = exclusions;
    for (size_t i = 0; i < n; i++) {
        const wfi_place place = wfi_place_at(build->document, build->err, "exclude[%zu]", i);
        build->observation->n_exclusions = i + 1;
        WFI_TRY(read_exclusion(build, &place, &build->raw->exclude[i], &exclusions[i]));
    }
    return exclude_from_recordings(build->observation, build->err);
}
