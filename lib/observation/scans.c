/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The scans of a job: what was observed when, and by whom. */
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/build.h"

static const wfi_quantity DURATION = {.expected = "a duration in s above 0, of at most 10 days",
                                      .least = 0.0,
                                      .most = 864000.0,
                                      .above_least = true};

/* Times of scans are compared with this tolerance: below any sample's length. */
static const double TIME_LIMIT_S = 1e-9;

static wf_status read_stations(const wfi_build *build, const wfi_place *place,
                               const wfi_raw_scan *raw, bool *takes_part)
{
    const wfi_names names = wfi_station_names(build->observation);
    for (size_t i = 0; raw->stations == NULL && i < names.n; i++)
        takes_part[i] = true;
    for (size_t k = 0; k < raw->stations_count; k++) {
        const wfi_place entry =
            wfi_place_at(place->document, place->err, "%s.stations[%zu]", place->path, k);
        size_t i = 0;
        WFI_TRY(wfi_read_reference(&entry, NULL, raw->stations[k], &names, &i));
        if (takes_part[i])
            return wfi_place_fail(&entry, NULL, "%s is listed already; keep one of them",
                                  raw->stations[k]);
        takes_part[i] = true;
    }
    return WF_OK;
}

static wf_status read_scan(const wfi_build *build, size_t i, wf_scan *scans)
{
    const wfi_raw_scan *raw = &build->raw->scans[i];
    wf_scan *scan = &scans[i];
    const wfi_place place = wfi_place_at(build->document, build->err, "scans[%zu]", i);
    const wfi_names taken = {"scans", scans[0].name, i, sizeof *scans};
    const wfi_names sources = wfi_source_names(build->observation);
    WFI_TRY(wfi_read_name(&place, "name", raw->name, WFI_OTHER_NAME_MAX, &taken, scan->name));
    WFI_TRY(wfi_read_reference(&place, "source", raw->source, &sources, &scan->i_source));
    WFI_TRY(wfi_read_instant(&place, "start", raw->start, &scan->start));
    WFI_TRY(wfi_read_number(&place, "duration_s", raw->duration_s, &DURATION, &scan->duration_s));
    bool *takes_part = NULL;
    WFI_TRY(wfi_allocate(&takes_part, build->observation->n_stations, sizeof *takes_part,
                         "a scan's stations", build->err));
    scan->station_takes_part = takes_part;
    return read_stations(build, &place, raw, takes_part);
}

static int by_start(const void *a, const void *b)
{
    const wf_scan *first = a;
    const wf_scan *second = b;
    const double difference_s = wf_instant_difference_s(first->start, second->start);
    if (difference_s != 0.0)
        return difference_s < 0.0 ? -1 : 1;
    return strcmp(first->name, second->name);
}

/* The scan as it stands in the file, once they have been put in order. */
static wfi_place place_of(const wfi_build *build, const wf_scan *scan)
{
    size_t i = 0;
    while (i + 1 < build->raw->scans_count && strcmp(build->raw->scans[i].name, scan->name) != 0)
        i++;
    return wfi_place_at(build->document, build->err, "scans[%zu]", i);
}

static wf_status refuse_overlap(const wfi_build *build, const wf_scan *before, const wf_scan *after)
{
    const wfi_place place = place_of(build, after);
    const wfi_place other = place_of(build, before);
    char start[WF_INSTANT_TEXT_BYTES];
    char end[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(start, after->start, 3);
    wf_instant_format(end, wf_instant_add(before->start, before->duration_s), 3);
    return wfi_place_fail(&place, "start",
                          "scan %s begins at %s, before scan %s (line %zu) ends at %s; scans must "
                          "not overlap: shorten one, or put it into a job of its own",
                          after->name, start, before->name,
                          wfi_document_line(build->document, other.path), end);
}

wf_status wfi_build_scans(const wfi_build *build)
{
    const size_t n = build->raw->scans_count;
    wf_scan *scans = NULL;
    WFI_TRY(wfi_allocate(&scans, n, sizeof *scans, "scans", build->err));
    build->observation->scans = scans;
    build->observation->n_scans = n;
    for (size_t i = 0; i < n; i++)
        WFI_TRY(read_scan(build, i, scans));
    qsort(scans, n, sizeof *scans, by_start);
    for (size_t i = 1; i < n; i++) {
        const double gap_s =
            wf_instant_difference_s(scans[i].start, scans[i - 1].start) - scans[i - 1].duration_s;
        if (gap_s < -TIME_LIMIT_S)
            return refuse_overlap(build, &scans[i - 1], &scans[i]);
    }
    return WF_OK;
}

static bool has_recording(const wf_observation *observation, size_t i_station)
{
    for (size_t i = 0; i < observation->n_recordings; i++) {
        if (observation->recordings[i].i_station == i_station)
            return true;
    }
    return false;
}

static wf_status check_recorded(const wfi_build *build, size_t i_station)
{
    const wf_observation *observation = build->observation;
    if (observation->n_recordings == 0 || has_recording(observation, i_station))
        return WF_OK;
    for (size_t i = 0; i < observation->n_scans; i++) {
        if (!observation->scans[i].station_takes_part[i_station])
            continue;
        const wfi_place place = place_of(build, &observation->scans[i]);
        const char *name = observation->stations[i_station].name;
        return wfi_place_fail(&place, "stations",
                              "%s takes part in scan %s, and no recording is of %s; add its "
                              "recording, or list the scan's stations without it",
                              name, observation->scans[i].name, name);
    }
    return WF_OK;
}

static wf_status check_length(const wfi_build *build, size_t i, double segment_s)
{
    const wf_scan *scan = &build->observation->scans[i];
    if (scan->duration_s >= segment_s * (1.0 - 1e-9))
        return WF_OK;
    const wfi_place place = place_of(build, scan);
    return wfi_place_fail(&place, "duration_s",
                          "expected at least one segment, %.9g s (1 / channel width), found %.9g; "
                          "take wider channels or a longer scan",
                          segment_s, scan->duration_s);
}

wf_status wfi_check_scans(const wfi_build *build)
{
    wf_observation *observation = build->observation;
    const double segment_s = 1.0 / wf_channel_width_hz(observation);
    for (size_t i = 0; i < observation->n_stations; i++)
        WFI_TRY(check_recorded(build, i));
    for (size_t i = 0; i < observation->n_scans; i++)
        WFI_TRY(check_length(build, i, segment_s));
    return WF_OK;
}
