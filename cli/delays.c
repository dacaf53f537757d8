/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe delays: the delay of every station, term by term, at chosen times. */
#include <stdlib.h>
#include <string.h>
#include <whitefringe/whitefringe.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "delays_table.h"
#include "verbs.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { TIME_DIGITS = 9 };

/* What the rows are made from. */
typedef struct sources {
    wf_observation *observation;
    wf_delay_model *model;
} sources;

static wf_status fill_row(delay_row *r, const sources *from, const wf_track *track, wf_error *err)
{
    wf_delay d;
    const wf_scan *scan = &from->observation->scans[r->i_scan];
    WFI_TRY(wf_delay_evaluate(from->model, r->i_station, scan->i_source, r->t, &d, err));
    double with_clock_s = 0;
    wf_track_evaluate(track, r->t, &with_clock_s, &r->rate_s_per_s);
    r->total_s = d.tau_s + d.clock_ahead_s;
    r->delay_s = d.tau_s;
    r->geometry_s = d.geometry_s;
    r->gravity_sun_s = d.gravity_sun_s;
    r->gravity_planets_s = d.gravity_planets_s;
    r->gravity_earth_s = d.gravity_earth_s;
    r->table_s = d.table_s;
    r->clock_ahead_s = d.clock_ahead_s;
    r->azimuth_deg = d.azimuth_rad * DEG_PER_RAD;
    r->elevation_deg = d.elevation_rad * DEG_PER_RAD;
    r->u_m = d.uvw_m[0];
    r->v_m = d.uvw_m[1];
    r->w_m = d.uvw_m[2];
    return WF_OK;
}

/* The k-th moment of a scan; false where there is no such one. */
static bool moment(const settings *asked, const wf_scan *scan, size_t k, wf_instant *t)
{
    if (asked->at.given) {
        *t = asked->at.value;
        return k == 0;
    }
    const double step_s = asked->step_s > 0 ? asked->step_s : scan->duration_s / 2;
    const double offset_s = (double)k * step_s;
    *t = wf_instant_add(scan->start, offset_s);
    return offset_s <= scan->duration_s;
}

static wf_status add_station(delay_table *out, const settings *asked, const sources *from,
                             size_t i_scan, size_t i_station, wf_error *err)
{
    wf_track *track = NULL;
    WFI_TRY(wf_track_create(&track, from->model, i_station, i_scan, err));
    wf_status status = WF_OK;
    delay_row r = {.i_scan = i_scan, .i_station = i_station};
    for (size_t k = 0; moment(asked, &from->observation->scans[i_scan], k, &r.t); k++) {
        status = fill_row(&r, from, track, err);
        if (status == WF_OK)
            status = wfi_array_reserve(&out->rows, &out->capacity, out->n + 1, sizeof r,
                                       "the table of delays", err);
        if (status != WF_OK)
            break;
        out->rows[out->n++] = r;
    }
    wf_track_destroy(track);
    return status;
}

static bool holds(const wf_scan *scan, wf_instant t)
{
    const double offset_s = wf_instant_difference_s(t, scan->start);
    return offset_s >= 0 && offset_s <= scan->duration_s;
}

static bool is_asked(const char *wanted, const char *name)
{
    return wanted == NULL || strcmp(wanted, name) == 0;
}

static wf_status fill_table(delay_table *out, const settings *asked, const sources *from,
                            wf_error *err)
{
    const wf_observation *o = from->observation;
    for (size_t s = 0; s < o->n_scans; s++) {
        const wf_scan *scan = &o->scans[s];
        if (!is_asked(asked->scan, scan->name) ||
            (asked->at.given && !holds(scan, asked->at.value)))
            continue;
        for (size_t i = 0; i < o->n_stations; i++) {
            if (scan->station_takes_part[i] && is_asked(asked->station, o->stations[i].name))
                WFI_TRY(add_station(out, asked, from, s, i, err));
        }
    }
    if (out->n > 0)
        return WF_OK;
    char text[WF_INSTANT_TEXT_BYTES];
    if (asked->at.given) {
        wf_instant_format(text, asked->at.value, TIME_DIGITS);
        return wfi_fail(err, WF_RANGE,
                        "%s: no scan that was asked for lies at %s with that station; ask without "
                        "--at for the times of the scans",
                        asked->operand, text);
    }
    return wfi_fail(err, WF_MISSING, "%s: station %s takes part in no scan that was asked for",
                    asked->operand, asked->station);
}

/* A name given on the command line that the job does not know. */
static wf_status check_name(const char *wanted, const char *kind, const void *first, size_t n,
                            size_t stride, const char *path, wf_error *err)
{
    const char **names = NULL;
    if (wanted == NULL)
        return WF_OK;
    WFI_TRY(wfi_allocate(&names, n, sizeof *names, "names", err));
    wf_status status = WF_MISSING;
    for (size_t i = 0; i < n; i++) {
        names[i] = (const char *)first + i * stride;
        if (strcmp(names[i], wanted) == 0)
            status = WF_OK;
    }
    const char *nearest = wfi_nearest_word(wanted, names, n);
    if (status != WF_OK && nearest != NULL)
        wfi_fail(err, status, "%s: there is no %s %s; did you mean %s?", path, kind, wanted,
                 nearest);
    else if (status != WF_OK)
        wfi_fail(err, status, "%s: there is no %s %s", path, kind, wanted);
    wfi_free(names);
    return status;
}

static int by_moment(const void *a, const void *b)
{
    const delay_row *x = a;
    const delay_row *y = b;
    if (x->i_scan != y->i_scan)
        return x->i_scan < y->i_scan ? -1 : 1;
    const double later_s = wf_instant_difference_s(x->t, y->t);
    if (later_s != 0)
        return later_s < 0 ? -1 : 1;
    return (x->i_station > y->i_station) - (x->i_station < y->i_station);
}

static wf_status run(const settings *asked, wf_error *err)
{
    sources from = {0};
    delay_table out = {0};
    wf_status status = wf_observation_load(&from.observation, asked->operand, err);
    const wf_observation *o = from.observation;
    if (status == WF_OK)
        status = check_name(asked->scan, "scan", o->scans->name, o->n_scans, sizeof *o->scans,
                            asked->operand, err);
    if (status == WF_OK)
        status = check_name(asked->station, "station", o->stations->name, o->n_stations,
                            sizeof *o->stations, asked->operand, err);
    if (status == WF_OK)
        status = wf_delay_model_create(&from.model, o, err);
    if (status == WF_OK)
        status = fill_table(&out, asked, &from, err);
    if (status == WF_OK) {
        qsort(out.rows, out.n, sizeof *out.rows, by_moment);
        status = delay_table_print(&out, asked, o, err);
    }
    wfi_free(out.rows);
    wf_delay_model_destroy(from.model);
    wf_observation_destroy(from.observation);
    return status;
}

static const char *check(const settings *asked)
{
    if (asked->at.given && asked->step_s > 0)
        return "--at and --step do not go together";
    if (asked->json && asked->csv)
        return "--json and --csv do not go together";
    return NULL;
}

static const option option_station = {.name = "station",
                                      .value = "NAME",
                                      .help = "only this station",
                                      .offset = offsetof(settings, station),
                                      .kind = OPTION_TEXT};
static const option option_at = {.name = "at",
                                 .value = "TIME",
                                 .help = "at this UTC time, such as 2026-03-01T12:00:00.25",
                                 .offset = offsetof(settings, at),
                                 .kind = OPTION_INSTANT};
static const option option_step = {.name = "step",
                                   .value = "SECONDS",
                                   .help = "every so many seconds of each scan",
                                   .offset = offsetof(settings, step_s),
                                   .kind = OPTION_SECONDS};
static const option option_csv = {.name = "csv",
                                  .help = "write comma-separated values instead of text",
                                  .offset = offsetof(settings, csv),
                                  .kind = OPTION_FLAG};
static const option *const options[] = {&option_scan, &option_station, &option_at, &option_step,
                                        &option_json, &option_csv,     NULL};

const verb verb_delays = {
    .name = "delays",
    .summary = "the delay of every station, term by term, at chosen times",
    .operand = "JOB.yaml",
    .details = "Delays are those of the stations against the geocentre: positive where the wave\n"
               "arrives later. Times are those at which the wave passes the geocentre; without\n"
               "--at or --step they are start, middle and end of each scan. The total is delay\n"
               "and clock together, and the rate is that of the total. u, v, w are those of the\n"
               "station's geocentric position: east, north, towards the source.\n",
    .options = options,
    .check = check,
    .run = run,
};
