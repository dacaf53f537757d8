/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the scans of a station to the samples of its recorder. */
#include "simulate/schedule.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

static const double MARGIN_S = 0.05;
/* A track reaches one second beyond its scan. */
static const double LONGEST_DELAY_S = 0.9;

static int64_t sample_number(wf_instant t, int64_t sample_rate_hz)
{
    return t.second * sample_rate_hz + (int64_t)(t.fraction * (double)sample_rate_hz);
}

static int64_t round_down(int64_t number, int64_t unit)
{
    return number - number % unit;
}

/* Delays at both ends of a scan, the true clock included. */
static wf_status delays_of(double delay_s[2], const wf_observation *observation,
                           const wfi_directions *directions, size_t i_station, size_t i_scan,
                           wf_error *err)
{
    const wf_scan *const scan = &observation->scans[i_scan];
    wf_track *track = NULL;
    WFI_TRY(wfi_directions_source_track(&track, directions, i_station, i_scan, err));
    wf_track_evaluate(track, scan->start, &delay_s[0], NULL);
    wf_track_evaluate(track, wf_instant_add(scan->start, scan->duration_s), &delay_s[1], NULL);
    wf_track_destroy(track);
    for (int i = 0; i < 2; i++)
        if (fabs(delay_s[i]) > LONGEST_DELAY_S)
            return wfi_fail(err, WF_UNSUPPORTED,
                            "station %s, scan %s: a delay with clock of %.6g s; at most %.1f s "
                            "can be simulated: mend the clock or the table",
                            observation->stations[i_station].name, scan->name, delay_s[i],
                            LONGEST_DELAY_S);
    return WF_OK;
}

/* The recorder runs by the scan's time and by that of the wave, whichever comes first or last. */
static wf_status pass(wfi_passage *out, const wf_observation *observation,
                      const wfi_directions *directions, const wf_recording_entry *entry,
                      size_t i_scan, int64_t unit, wf_error *err)
{
    const wf_scan *const scan = &observation->scans[i_scan];
    double delay_s[2];
    WFI_TRY(delays_of(delay_s, observation, directions, entry->i_station, i_scan, err));
    const wf_instant first = wf_instant_add(scan->start, fmin(delay_s[0], 0.0) - MARGIN_S);
    const wf_instant end =
        wf_instant_add(scan->start, scan->duration_s + fmax(delay_s[1], 0.0) + MARGIN_S);
    *out = (wfi_passage){
        .first = round_down(sample_number(first, entry->sample_rate_hz), unit),
        .end = round_down(sample_number(end, entry->sample_rate_hz) + unit, unit),
        .on_sky = true,
        .i_scan = i_scan,
    };
    return WF_OK;
}

/* Passages that overlap share the time between them if they look at the same source. */
static wf_status part(wfi_passage *before, wfi_passage *after, const wf_observation *observation,
                      int64_t unit, wf_error *err)
{
    if (before->end <= after->first)
        return WF_OK;
    const wf_scan *const a = &observation->scans[before->i_scan];
    const wf_scan *const b = &observation->scans[after->i_scan];
    const int64_t middle = round_down(after->first + (before->end - after->first) / 2, unit);
    if (a->i_source != b->i_source || middle <= before->first || middle >= after->end)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "scans %s and %s are too close to one another to record each with its "
                        "margins: leave 0.2 s between them, more with long frames",
                        a->name, b->name);
    before->end = after->first = middle;
    return WF_OK;
}

static wf_status list_scans(wfi_schedule *out, const wf_observation *observation,
                            const wfi_directions *directions, const wf_recording_entry *entry,
                            int64_t unit, wf_error *err)
{
    for (size_t i = 0; i < observation->n_scans; i++) {
        if (!observation->scans[i].station_takes_part[entry->i_station])
            continue;
        wfi_passage *const passage = &out->list[out->n];
        WFI_TRY(pass(passage, observation, directions, entry, i, unit, err));
        if (out->n > 0)
            WFI_TRY(part(passage - 1, passage, observation, unit, err));
        out->n++;
    }
    if (out->n == 0)
        return wfi_fail(err, WF_MISSING,
                        "station %s takes part in no scan: remove its recording, or add the "
                        "station to a scan",
                        observation->stations[entry->i_station].name);
    return WF_OK;
}

/* Put receiver noise between the passages, and before and after them to whole seconds; the list
 * has room for it. */
static void fill_gaps(wfi_schedule *schedule, int64_t sample_rate_hz)
{
    const size_t n_scans = schedule->n;
    wfi_passage *const list = schedule->list;
    const wfi_passage first = list[0], last = list[n_scans - 1];
    int64_t end = round_down(last.end + sample_rate_hz - 1, sample_rate_hz);
    size_t n = 2 * n_scans + 1;
    for (size_t i = n_scans; i-- > 0;) {
        const wfi_passage scan = list[i];
        list[--n] = (wfi_passage){.first = scan.end, .end = end};
        list[--n] = scan;
        end = scan.first;
    }
    list[0] = (wfi_passage){.first = round_down(first.first, sample_rate_hz), .end = end};
    schedule->n = 2 * n_scans + 1;
}

wf_status wfi_schedule_create(wfi_schedule *out, const wf_observation *observation,
                              const wfi_directions *directions, size_t i_recording,
                              const wfi_style *style, wf_error *err)
{
    *out = (wfi_schedule){0};
    const wf_recording_entry *const entry = &observation->recordings[i_recording];
    const int64_t unit = style->is_sound ? 1 : style->samples_per_frame;
    wf_status status = wfi_allocate(&out->list, 2 * observation->n_scans + 1, sizeof *out->list,
                                    "a recorder's schedule", err);
    if (status == WF_OK)
        status = list_scans(out, observation, directions, entry, unit, err);
    if (status != WF_OK) {
        wfi_schedule_release(out);
        return status;
    }
    if (style->is_sound)
        fill_gaps(out, entry->sample_rate_hz);
    for (size_t i = 0; i < out->n; i++)
        out->n_samples += out->list[i].end - out->list[i].first;
    return WF_OK;
}

void wfi_schedule_release(wfi_schedule *schedule)
{
    wfi_free(schedule->list);
    *schedule = (wfi_schedule){0};
}
