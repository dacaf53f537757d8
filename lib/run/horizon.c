/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sources below a station's horizon. */
#include "run/horizon.h"

#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"

static const double DEG_PER_RAD = 57.29577951308232088;

/* A station's scans below its limit. */
typedef struct low {
    size_t n_scans;
    size_t i_first;
    double elevation_rad; /* the lowest of the first scan */
} low;

typedef struct survey {
    const wf_observation *observation;
    const wf_delay_model *model;
    low *stations; /* [n_stations], as the next two */
    double *lowest_rad;
    wf_delay *delays;
} survey;

static wf_status survey_scan(const survey *s, size_t i_scan, wf_error *err)
{
    const wf_scan *scan = &s->observation->scans[i_scan];
    const size_t n = s->observation->n_stations;
    for (size_t i = 0; i < n; i++)
        s->lowest_rad[i] = INFINITY;
    for (int k = 0; k <= 2; k++) {
        const wf_instant t = wf_instant_add(scan->start, scan->duration_s * k / 2.0);
        WFI_TRY(wf_delay_evaluate_all(s->model, scan->i_source, t, scan->station_takes_part,
                                      s->delays, NULL, err));
        for (size_t i = 0; i < n; i++)
            s->lowest_rad[i] = fmin(s->lowest_rad[i], s->delays[i].elevation_rad);
    }
    for (size_t i = 0; i < n; i++) {
        /* a table may stand for a station anywhere */
        if (!scan->station_takes_part[i] || s->observation->stations[i].delay_table_path != NULL ||
            s->lowest_rad[i] >= s->observation->stations[i].elevation_limit_rad)
            continue;
        if (s->stations[i].n_scans++ == 0)
            s->stations[i] = (low){1, i_scan, s->lowest_rad[i]};
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

static wf_status survey_scans(survey *s, const bool *scan_is_wanted, wf_warn warn, void *context,
                              wf_error *err)
{
    const size_t n = s->observation->n_stations;
    WFI_TRY(wfi_allocate(&s->stations, n, sizeof s->stations[0], "elevations", err));
    WFI_TRY(wfi_allocate(&s->lowest_rad, n, sizeof s->lowest_rad[0], "elevations", err));
    WFI_TRY(wfi_allocate(&s->delays, n, sizeof s->delays[0], "elevations", err));
    for (size_t i = 0; i < s->observation->n_scans; i++)
        if (scan_is_wanted[i])
            WFI_TRY(survey_scan(s, i, err));
    for (size_t i = 0; i < n; i++)
        if (s->stations[i].n_scans > 0)
            tell(s->observation, i, &s->stations[i], warn, context);
    return WF_OK;
}

wf_status wfi_horizon_warn(const wf_observation *observation, const wf_delay_model *model,
                           const bool *scan_is_wanted, wf_warn warn, void *context, wf_error *err)
{
    if (warn == NULL)
        return WF_OK;
    survey s = {.observation = observation, .model = model};
    const wf_status status = survey_scans(&s, scan_is_wanted, warn, context, err);
    wfi_free(s.stations);
    wfi_free(s.lowest_rad);
    wfi_free(s.delays);
    return status;
}
