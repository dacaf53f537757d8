/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sources below a station's horizon. */
#include "run/horizon.h"

#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"

enum { STEPS = 8 }; /* of a scan */
static const double DEG_PER_RAD = 57.29577951308232088;

/* A station's scans below its limit. */
typedef struct low {
    size_t n_scans;
    size_t i_first;
    double elevation_rad; /* the lowest of the first scan */
    double below_s;       /* of all scans */
    double asked_s;
} low;

typedef struct survey {
    const wf_observation *observation;
    const wf_delay_model *model;
    low *stations; /* [n_stations], as the next three */
    double *lowest_rad;
    double *last_rad;
    wf_delay *delays;
} survey;

/* The part of a step during which a straight line runs below zero. */
static double part_below(double begin, double end)
{
    if (begin >= 0 && end >= 0)
        return 0.0;
    if (begin <= 0 && end <= 0)
        return 1.0;
    const double lower = begin < end ? begin : end;
    return lower / (lower - (begin < end ? end : begin));
}

static void take_step(const survey *s, size_t i, int k, double step_s)
{
    const double elevation_rad = s->delays[i].elevation_rad;
    const double limit_rad = s->observation->stations[i].elevation_limit_rad;
    low *l = &s->stations[i];
    s->lowest_rad[i] = fmin(s->lowest_rad[i], elevation_rad);
    if (k > 0) {
        l->asked_s += step_s;
        l->below_s += step_s * part_below(s->last_rad[i] - limit_rad, elevation_rad - limit_rad);
    }
    s->last_rad[i] = elevation_rad;
}

/* a table may stand for a station anywhere */
static bool is_asked(const survey *s, const wf_scan *scan, size_t i)
{
    return scan->station_takes_part[i] && s->observation->stations[i].delay_table_path == NULL;
}

static wf_status survey_scan(const survey *s, size_t i_scan, wf_error *err)
{
    const wf_scan *scan = &s->observation->scans[i_scan];
    const size_t n = s->observation->n_stations;
    for (size_t i = 0; i < n; i++)
        s->lowest_rad[i] = INFINITY;
    for (int k = 0; k <= STEPS; k++) {
        const wf_instant t = wf_instant_add(scan->start, scan->duration_s * k / STEPS);
        WFI_TRY(wf_delay_evaluate_all(s->model, scan->i_source, t, scan->station_takes_part,
                                      s->delays, NULL, err));
        for (size_t i = 0; i < n; i++)
            if (is_asked(s, scan, i))
                take_step(s, i, k, scan->duration_s / STEPS);
    }
    for (size_t i = 0; i < n; i++) {
        low *l = &s->stations[i];
        if (!is_asked(s, scan, i) ||
            s->lowest_rad[i] >= s->observation->stations[i].elevation_limit_rad)
            continue;
        if (l->n_scans++ == 0) {
            l->i_first = i_scan;
            l->elevation_rad = s->lowest_rad[i];
        }
    }
    return WF_OK;
}

static void tell(const wf_observation *observation, size_t i_station, const low *l, wf_warn warn,
                 void *context)
{
    const wf_station *station = &observation->stations[i_station];
    const wf_scan *scan = &observation->scans[l->i_first];
    char more[64] = "";
    char message[512];
    if (l->n_scans > 1)
        snprintf(more, sizeof more, " (and in %zu more scan%s)", l->n_scans - 1,
                 l->n_scans > 2 ? "s" : "");
    snprintf(message, sizeof message,
             "station %s, scan %s%s: %s stands at an elevation of %.2f deg, below the limit of "
             "%.4g; check the position, the source and the time, or set elevation_limit_deg",
             station->name, scan->name, more, observation->sources[scan->i_source].name,
             l->elevation_rad * DEG_PER_RAD, station->elevation_limit_rad * DEG_PER_RAD);
    warn(context, message);
}

static wf_status survey_scans(survey *s, const bool *scan_is_wanted, wf_error *err)
{
    const size_t n = s->observation->n_stations;
    WFI_TRY(wfi_allocate(&s->stations, n, sizeof s->stations[0], "elevations", err));
    WFI_TRY(wfi_allocate(&s->lowest_rad, n, sizeof s->lowest_rad[0], "elevations", err));
    WFI_TRY(wfi_allocate(&s->last_rad, n, sizeof s->last_rad[0], "elevations", err));
    WFI_TRY(wfi_allocate(&s->delays, n, sizeof s->delays[0], "elevations", err));
    for (size_t i = 0; i < s->observation->n_scans; i++)
        if (scan_is_wanted[i])
            WFI_TRY(survey_scan(s, i, err));
    return WF_OK;
}

wf_status wfi_horizon_warn(const wf_observation *observation, const wf_delay_model *model,
                           const bool *scan_is_wanted, double *below_fraction, wf_warn warn,
                           void *context, wf_error *err)
{
    survey s = {.observation = observation, .model = model};
    const wf_status status = survey_scans(&s, scan_is_wanted, err);
    for (size_t i = 0; status == WF_OK && i < observation->n_stations; i++) {
        const low *l = &s.stations[i];
        below_fraction[i] = l->asked_s > 0 ? l->below_s / l->asked_s : 0.0;
        if (warn != NULL && l->n_scans > 0)
            tell(observation, i, l, warn, context);
    }
    wfi_free(s.stations);
    wfi_free(s.lowest_rad);
    wfi_free(s.last_rad);
    wfi_free(s.delays);
    return status;
}
