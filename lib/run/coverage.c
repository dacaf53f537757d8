/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Do the recordings meet the scans, and each other?
 *
 * The job's clocks are taken off, which may be wrong by whole seconds or hours and known to be.
 * What is not known of a clock, and delays, shift a recording by at most about a second, which is
 * granted to it.
 */
#include "run/coverage.h"

#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "delay/clock.h"

static const double GRACE_S = 1.0;

typedef struct stretch {
    wf_instant begin;
    wf_instant end;
} stretch;

/* When a recording was made, by UTC as far as its station's clock is known. */
static stretch recorded(const wf_observation *observation, const wf_recording *const *recordings,
                        size_t r)
{
    const wf_recording_info *info = wf_recording_describe(recordings[r]);
    const wf_clock *clock = &observation->stations[observation->recordings[r].i_station].clock;
    const wf_instant begin =
        wf_instant_add_samples(info->origin, info->first, info->sample_rate_hz);
    const wf_instant end = wf_instant_add_samples(info->origin, info->end, info->sample_rate_hz);
    const double ahead_s =
        observation->delay_terms.clock ? wfi_clock_ahead_s(clock, begin, 0.0) : 0.0;
    return (stretch){wf_instant_add(begin, -ahead_s), wf_instant_add(end, -ahead_s)};
}

static stretch of_scan(const wf_scan *scan)
{
    return (stretch){scan->start, wf_instant_add(scan->start, scan->duration_s)};
}

/* The common part of two stretches, s; negative: the time between them. */
static double common_s(stretch a, stretch b)
{
    const double ab = wf_instant_difference_s(a.end, b.begin);
    const double ba = wf_instant_difference_s(b.end, a.begin);
    const double aa = wf_instant_difference_s(a.end, a.begin);
    const double bb = wf_instant_difference_s(b.end, b.begin);
    const double meet = ab < ba ? ab : ba;
    const double inside = aa < bb ? aa : bb;
    return meet < inside ? meet : inside;
}

static bool station_meets_scan(const wf_observation *observation,
                               const wf_recording *const *recordings, size_t i_station,
                               const wf_scan *scan)
{
    for (size_t r = 0; r < observation->n_recordings; r++) {
        if (observation->recordings[r].i_station == i_station &&
            common_s(recorded(observation, recordings, r), of_scan(scan)) > -GRACE_S)
            return true;
    }
    return false;
}

/* Half a year or more apart: VDIF counts from a reference epoch, which recorders get wrong. */
static void suggest_epoch(char *text, size_t capacity, const wf_observation *observation,
                          const wf_recording *const *recordings, size_t i_station,
                          const wf_scan *scan)
{
    static const double NEARLY_HALF_A_YEAR_S = 170.0 * 86400.0;
    enum { FIRST_YEAR = 2000 };
    char date[WF_INSTANT_TEXT_BYTES];
    int year = 0;
    int month = 0;
    wf_instant_format(date, scan->start, 0);
    if (sscanf(date, "%d-%d", &year, &month) != 2)
        return;
    for (size_t r = 0; r < observation->n_recordings; r++) {
        if (observation->recordings[r].i_station != i_station)
            continue;
        const double apart_s =
            wf_instant_difference_s(recorded(observation, recordings, r).begin, scan->start);
        if (fabs(apart_s) > NEARLY_HALF_A_YEAR_S)
            snprintf(text, capacity,
                     ", or, if the headers' reference epoch is wrong, add reference_epoch: %d to "
                     "the recording",
                     2 * (year - FIRST_YEAR) + (month > 6 ? 1 : 0));
        return;
    }
}

static wf_status station_meets_nothing(const wf_observation *observation,
                                       const wf_recording *const *recordings, size_t i_station,
                                       const wf_scan *scan, wf_error *err)
{
    char from[WF_INSTANT_TEXT_BYTES] = "nowhere";
    char to[WF_INSTANT_TEXT_BYTES] = "nowhere";
    char start[WF_INSTANT_TEXT_BYTES];
    for (size_t r = 0; r < observation->n_recordings; r++) {
        if (observation->recordings[r].i_station != i_station)
            continue;
        wf_instant_format(from, recorded(observation, recordings, r).begin, 3);
        wf_instant_format(to, recorded(observation, recordings, r).end, 3);
        break;
    }
    wf_instant_format(start, scan->start, 3);
    char epoch[128] = "";
    suggest_epoch(epoch, sizeof epoch, observation, recordings, i_station, scan);
    return wfi_fail(err, WF_RANGE,
                    "station %s: its recording runs from %s to %s UTC and meets none of its scans "
                    "(%s starts at %s); mend the scans' start or the station's clock, or take the "
                    "station out of their stations:%s",
                    observation->stations[i_station].name, from, to, scan->name, start, epoch);
}

static void warn_of_missed_scan(const wf_observation *observation, size_t i_station,
                                const wf_scan *scan, wf_warn warn, void *context)
{
    char message[256];
    if (warn == NULL)
        return;
    snprintf(message, sizeof message, "station %s has no recording of scan %s",
             observation->stations[i_station].name, scan->name);
    warn(context, message);
}

static wf_status check_station(const wf_observation *observation,
                               const wf_recording *const *recordings, const bool *scan_wanted,
                               size_t i_station, wf_warn warn, void *context, wf_error *err)
{
    const wf_scan *first = NULL;
    size_t n_met = 0;
    for (size_t s = 0; s < observation->n_scans; s++) {
        const wf_scan *scan = &observation->scans[s];
        if (!scan_wanted[s] || !scan->station_takes_part[i_station])
            continue;
        first = first == NULL ? scan : first;
        if (station_meets_scan(observation, recordings, i_station, scan))
            n_met++;
        else
            warn_of_missed_scan(observation, i_station, scan, warn, context);
    }
    if (first == NULL || n_met > 0)
        return WF_OK;
    return station_meets_nothing(observation, recordings, i_station, first, err);
}

/* A recording that begins whole seconds late and ends as much late, or early and early: its tags
 * may be off. */
static void warn_of_offset(const wf_observation *observation, const wf_recording *const *recordings,
                           size_t r, const wf_scan *scan, wf_warn warn, void *context)
{
    static const double LEAST_S = 0.5;
    static const double ROUNDING_S = 0.1; /* delays, and clocks that are not known */
    const stretch is = recorded(observation, recordings, r);
    const stretch should = of_scan(scan);
    const double late_s = wf_instant_difference_s(is.begin, should.begin);
    const double early_s = wf_instant_difference_s(should.end, is.end);
    double shift_s = 0;
    if (late_s > LEAST_S)
        shift_s = -ceil(late_s - ROUNDING_S);
    else if (early_s > LEAST_S)
        shift_s = ceil(early_s - ROUNDING_S);
    if (warn == NULL || shift_s == 0 || common_s(is, should) <= 0 ||
        late_s + shift_s > ROUNDING_S || early_s - shift_s > ROUNDING_S ||
        observation->recordings[r].time_offset_s != 0)
        return;
    char message[512];
    snprintf(message, sizeof message,
             "station %s: its recording misses the %s %.3f s of scan %s but reaches beyond its %s; "
             "if its tags are whole seconds off, time_offset_s: %.0f in the recording mends it",
             observation->stations[observation->recordings[r].i_station].name,
             shift_s < 0 ? "first" : "last", shift_s < 0 ? late_s : early_s, scan->name,
             shift_s < 0 ? "end" : "beginning", shift_s);
    warn(context, message);
}

static void warn_of_offsets(const wf_observation *observation,
                            const wf_recording *const *recordings, const bool *scan_wanted,
                            wf_warn warn, void *context)
{
    for (size_t r = 0; r < observation->n_recordings; r++)
        for (size_t s = 0; s < observation->n_scans; s++)
            if (scan_wanted[s] &&
                observation->scans[s].station_takes_part[observation->recordings[r].i_station])
                warn_of_offset(observation, recordings, r, &observation->scans[s], warn, context);
}

static bool any_two_stations_meet(const wf_observation *observation,
                                  const wf_recording *const *recordings)
{
    for (size_t a = 0; a < observation->n_recordings; a++) {
        for (size_t b = a + 1; b < observation->n_recordings; b++) {
            if (observation->recordings[a].i_station != observation->recordings[b].i_station &&
                common_s(recorded(observation, recordings, a),
                         recorded(observation, recordings, b)) > 0)
                return true;
        }
    }
    return false;
}

static wf_status stations_never_meet(const wf_observation *observation,
                                     const wf_recording *const *recordings, wf_error *err)
{
    size_t other = 1;
    while (observation->recordings[other].i_station == observation->recordings[0].i_station)
        other++;
    char from[2][WF_INSTANT_TEXT_BYTES];
    char to[2][WF_INSTANT_TEXT_BYTES];
    const size_t pair[2] = {0, other};
    for (size_t k = 0; k < 2; k++) {
        wf_instant_format(from[k], recorded(observation, recordings, pair[k]).begin, 3);
        wf_instant_format(to[k], recorded(observation, recordings, pair[k]).end, 3);
    }
    return wfi_fail(err, WF_RANGE,
                    "no two stations were recorded at the same time: %s from %s to %s, %s from %s "
                    "to %s; is a file another scan's, or a start: wrong?",
                    observation->stations[observation->recordings[0].i_station].name, from[0],
                    to[0], observation->stations[observation->recordings[other].i_station].name,
                    from[1], to[1]);
}

wf_status wfi_coverage_check(const wf_observation *observation,
                             const wf_recording *const *recordings, const bool *scan_wanted,
                             wf_warn warn, void *context, wf_error *err)
{
    size_t n_recorded = 0;
    for (size_t i = 0; i < observation->n_stations; i++) {
        WFI_TRY(check_station(observation, recordings, scan_wanted, i, warn, context, err));
        bool recorded_at_all = false;
        for (size_t r = 0; r < observation->n_recordings && !recorded_at_all; r++)
            recorded_at_all = observation->recordings[r].i_station == i;
        n_recorded += recorded_at_all;
    }
    warn_of_offsets(observation, recordings, scan_wanted, warn, context);
    if (n_recorded > 1 && !any_two_stations_meet(observation, recordings))
        return stations_never_meet(observation, recordings, err);
    return WF_OK;
}

static bool is_before(wf_instant a, wf_instant b)
{
    return wf_instant_difference_s(a, b) < 0;
}

/* From the first sample of a station's recordings to the last. */
static bool extent_of_station(stretch *out, const wf_observation *observation,
                              const wf_recording *const *recordings, size_t i_station)
{
    bool any = false;
    for (size_t r = 0; r < observation->n_recordings; r++) {
        if (observation->recordings[r].i_station != i_station)
            continue;
        const stretch is = recorded(observation, recordings, r);
        out->begin = any && is_before(out->begin, is.begin) ? out->begin : is.begin;
        out->end = any && is_before(is.end, out->end) ? out->end : is.end;
        any = true;
    }
    return any;
}

void wfi_coverage_of_scan(bool *has_recorded, wf_time_span *common,
                          const wf_observation *observation, const wf_recording *const *recordings,
                          const wf_scan *scan, const bool *takes_part)
{
    const stretch whole = of_scan(scan);
    stretch shared = whole;
    for (size_t i = 0; i < observation->n_stations; i++) {
        stretch is;
        has_recorded[i] = takes_part[i] && extent_of_station(&is, observation, recordings, i) &&
                          common_s(is, whole) > -GRACE_S;
        if (!has_recorded[i])
            continue;
        shared.begin = is_before(shared.begin, is.begin) ? is.begin : shared.begin;
        shared.end = is_before(is.end, shared.end) ? is.end : shared.end;
    }
    if (!is_before(shared.begin, shared.end))
        shared = whole;
    *common = (wf_time_span){shared.begin, shared.end};
}
