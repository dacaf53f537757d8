/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "losses.h"

#include <inttypes.h>
#include <stdio.h>

/* Below a sample in a billion a fraction is rounding. */
static const double LEAST_FRACTION = 1e-9;
static const double DEG_PER_RAD = 57.29577951308232088;
enum { TIME_DIGITS = 6 };
static const double ROUNDING_S = 0.5e-6; /* texts are cut, not rounded */

static void describe(const wf_observation *o, const wf_stream_summary *s, char text[128])
{
    const wf_stream *stream = &o->recordings[s->i_recording].streams[s->i_stream];
    char name[WF_STREAM_TEXT_BYTES];
    wf_stream_format(name, stream);
    snprintf(text, 128, "%-8s  %9zu  %s", o->stations[s->i_station].name, s->i_recording + 1, name);
}

static bool any_lost(const wf_correlate_summary *s)
{
    for (size_t i = 0; i < s->n_streams; i++) {
        if (s->streams[i].not_recorded_fraction > LEAST_FRACTION)
            return true;
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
            if (s->streams[i].lost_fraction[k] > LEAST_FRACTION)
                return true;
    }
    return false;
}

static void print_lost(const wf_observation *o, const wf_correlate_summary *s)
{
    printf("\nlost\n  %-8s  %9s  %-28s  %10s  why\n", "station", "recording", "stream", "lost/%");
    for (size_t i = 0; i < s->n_streams; i++) {
        const wf_stream_summary *stream = &s->streams[i];
        char text[128];
        describe(o, stream, text);
        if (stream->not_recorded_fraction > LEAST_FRACTION)
            printf("  %-49s  %10.4f  not recorded\n", text, 100 * stream->not_recorded_fraction);
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
            if (stream->lost_fraction[k] > LEAST_FRACTION)
                printf("  %-49s  %10.4f  %s\n", text, 100 * stream->lost_fraction[k],
                       wf_fault_text((wf_fault_kind)k));
    }
}

static const char *file_of(const wf_recording_entry *entry, const wf_fault_place *place)
{
    const char *path = entry->paths[place->i_file];
    const char *name = path;
    for (const char *p = path; *p != '\0'; p++)
        if (*p == '/')
            name = p + 1;
    return name;
}

static void format_place(char text[160], const wf_recording_entry *entry,
                         const wf_fault_place *place)
{
    char time[WF_INSTANT_TEXT_BYTES] = "";
    if (place->has_time)
        wf_instant_format(time, wf_instant_add(place->t, ROUNDING_S), TIME_DIGITS);
    char byte[40] = "";
    if (place->offset_bytes >= 0)
        snprintf(byte, sizeof byte, " byte %" PRId64, place->offset_bytes);
    snprintf(text, 160, "%.60s%s%s%s", file_of(entry, place), byte, place->has_time ? ", " : "",
             time);
}

static size_t n_faults(const wf_correlate_summary *s)
{
    size_t n = 0;
    for (size_t r = 0; r < s->n_recordings; r++)
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
            n += s->recordings[r].faults[k].n_places > 0;
    return n;
}

static void print_faults(const wf_observation *o, const wf_correlate_summary *s)
{
    printf(
        "\nfaults of the recordings, times by the station's clock\n  %-8s  %9s  %-15s  %8s  %10s  "
        "%s\n",
        "station", "recording", "kind", "places", "frames", "first ... last");
    for (size_t r = 0; r < s->n_recordings; r++) {
        const wf_recording_entry *entry = &o->recordings[r];
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++) {
            const wf_fault *f = &s->recordings[r].faults[k];
            if (f->n_places == 0)
                continue;
            char first[160];
            char last[160];
            format_place(first, entry, &f->first);
            format_place(last, entry, &f->last);
            printf("  %-8s  %9zu  %-15s  %8" PRId64 "  %10" PRId64 "  %s ... %s\n",
                   o->stations[entry->i_station].name, r + 1, wf_fault_key((wf_fault_kind)k),
                   f->n_places, f->n_frames, first, last);
        }
    }
}

/* By station: every stream of it sees the same sky. */
static void print_below(const wf_observation *o, const wf_correlate_summary *s)
{
    bool any = false;
    for (size_t i = 0; i < s->n_streams; i++) {
        const wf_stream_summary *stream = &s->streams[i];
        const bool again = i > 0 && s->streams[i - 1].i_station == stream->i_station;
        if (stream->below_limit_fraction <= 0 || again)
            continue;
        if (!any)
            printf("\nbelow the elevation limit, correlated all the same: nothing but noise is to "
                   "be expected\n  %-8s  %10s  %12s\n",
                   "station", "time/%", "limit/deg");
        any = true;
        printf("  %-8s  %10.4f  %12.4g\n", o->stations[stream->i_station].name,
               100 * stream->below_limit_fraction,
               DEG_PER_RAD * o->stations[stream->i_station].elevation_limit_rad);
    }
}

void losses_print(const wf_observation *observation, const wf_correlate_summary *summary)
{
    print_below(observation, summary);
    if (any_lost(summary))
        print_lost(observation, summary);
    if (n_faults(summary) > 0)
        print_faults(observation, summary);
}

void losses_add_stream(json *out, const wf_stream_summary *stream)
{
    json_number(out, "below_limit_fraction", stream->below_limit_fraction);
    json_number(out, "not_recorded_fraction", stream->not_recorded_fraction);
    json_open(out, "lost_fraction", '{');
    for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
        if (stream->lost_fraction[k] > LEAST_FRACTION)
            json_number(out, wf_fault_key((wf_fault_kind)k), stream->lost_fraction[k]);
    json_close(out);
}

static void add_place(json *out, const char *key, const wf_recording_entry *entry,
                      const wf_fault_place *place)
{
    char time[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(time, wf_instant_add(place->t, ROUNDING_S), TIME_DIGITS);
    json_open(out, key, '{');
    json_text(out, "file", entry->paths[place->i_file]);
    if (place->offset_bytes >= 0)
        json_count(out, "offset_bytes", place->offset_bytes);
    json_count(out, "frame", place->frame);
    json_count(out, "thread", place->thread);
    json_text(out, "station_clock_utc", place->has_time ? time : NULL);
    json_close(out);
}

void losses_add_faults(json *out, const wf_observation *observation,
                       const wf_correlate_summary *summary)
{
    json_open(out, "faults", '[');
    for (size_t r = 0; r < summary->n_recordings; r++) {
        const wf_recording_entry *entry = &observation->recordings[r];
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++) {
            const wf_fault *f = &summary->recordings[r].faults[k];
            if (f->n_places == 0)
                continue;
            json_open(out, NULL, '{');
            json_text(out, "station", observation->stations[entry->i_station].name);
            json_count(out, "recording", (int64_t)r);
            json_text(out, "kind", wf_fault_key((wf_fault_kind)k));
            json_count(out, "places", f->n_places);
            json_count(out, "frames", f->n_frames);
            json_count(out, "bytes", f->n_bytes);
            json_count(out, "lost_samples", f->lost_samples);
            add_place(out, "first", entry, &f->first);
            add_place(out, "last", entry, &f->last);
            json_close(out);
        }
    }
    json_close(out);
}
