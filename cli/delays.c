/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe delays: the delay of every station, term by term, at chosen times. */
#include <stdlib.h>
#include <string.h>
#include <whitefringe/whitefringe.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "delays_table.h"
#include "progress.h"
#include "verbs.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { TIME_DIGITS = 9 };

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

static bool holds(const wf_scan *scan, wf_instant t)
{
    const double offset_s = wf_instant_difference_s(t, scan->start);
    return offset_s >= 0 && offset_s <= scan->duration_s;
}

/* Room for the delays of all stations at a moment. */
typedef struct work {
    bool *is_wanted; /* [n_stations], as the next */
    wf_delay *delay;
    double *rate_s_per_s;
} work;

static wf_status add_row(delay_table *out, const work *w, delay_row r, wf_error *err)
{
    r.delay = w->delay[r.i_station];
    r.total_s = r.delay.tau_s + r.delay.clock_ahead_s;
    r.rate_s_per_s = w->rate_s_per_s[r.i_station];
    r.azimuth_deg = r.delay.azimuth_rad * DEG_PER_RAD;
    r.elevation_deg = r.delay.elevation_rad * DEG_PER_RAD;
    r.below_limit =
        r.delay.elevation_rad < out->observation->stations[r.i_station].elevation_limit_rad;
    WFI_TRY(wfi_array_reserve(&out->rows, &out->capacity, out->n + 1, sizeof r,
                              "the table of delays", err));
    out->rows[out->n++] = r;
    return WF_OK;
}

static wf_status add_scan(delay_table *out, const settings *asked, const work *w, size_t i_scan,
                          wf_error *err)
{
    const wf_observation *o = out->observation;
    const wf_scan *scan = &o->scans[i_scan];
    bool any = false;
    for (size_t i = 0; i < o->n_stations; i++) {
        w->is_wanted[i] =
            scan->station_takes_part[i] &&
            (asked->station == NULL || strcmp(asked->station, o->stations[i].name) == 0);
        any = any || w->is_wanted[i];
    }
    delay_row r = {.i_scan = i_scan};
    for (size_t k = 0; any && moment(asked, scan, k, &r.t); k++) {
        WFI_TRY(wf_delay_evaluate_all(out->model, scan->i_source, r.t, w->is_wanted, w->delay,
                                      w->rate_s_per_s, err));
        for (r.i_station = 0; r.i_station < o->n_stations; r.i_station++)
            if (w->is_wanted[r.i_station])
                WFI_TRY(add_row(out, w, r, err));
    }
    return WF_OK;
}

static wf_status fill_rows(delay_table *out, const settings *asked, const work *w, wf_error *err)
{
    const wf_observation *o = out->observation;
    for (size_t s = 0; s < o->n_scans; s++) {
        if ((asked->scan == NULL || strcmp(asked->scan, o->scans[s].name) == 0) &&
            (!asked->at.given || holds(&o->scans[s], asked->at.value)))
            WFI_TRY(add_scan(out, asked, w, s, err));
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

static wf_status fill_table(delay_table *out, const settings *asked, wf_error *err)
{
    const size_t n = out->observation->n_stations;
    work w = {0};
    wf_status status = wfi_allocate(&w.is_wanted, n, sizeof w.is_wanted[0], "delays", err);
    if (status == WF_OK)
        status = wfi_allocate(&w.delay, n, sizeof w.delay[0], "delays", err);
    if (status == WF_OK)
        status = wfi_allocate(&w.rate_s_per_s, n, sizeof w.rate_s_per_s[0], "delays", err);
    if (status == WF_OK)
        status = fill_rows(out, asked, &w, err);
    wfi_free(w.is_wanted);
    wfi_free(w.delay);
    wfi_free(w.rate_s_per_s);
    return status;
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

static wf_status warn_of_orientation(const settings *asked, const wf_observation *o,
                                     const wf_delay_model *model, wf_error *err)
{
    progress none = {0};
    bool *is_wanted = NULL;
    WFI_TRY(wfi_allocate(&is_wanted, o->n_scans, sizeof is_wanted[0], "scans", err));
    for (size_t i = 0; i < o->n_scans; i++)
        is_wanted[i] = asked->scan == NULL || strcmp(asked->scan, o->scans[i].name) == 0;
    wf_delay_warn_of_orientation(model, is_wanted, progress_warn, &none);
    wfi_free(is_wanted);
    return WF_OK;
}

static wf_status run(const settings *asked, wf_error *err)
{
    wf_observation *o = NULL;
    wf_delay_model *model = NULL;
    wf_status status = wf_observation_load(&o, asked->operand, err);
    if (status == WF_OK)
        status = check_name(asked->scan, "scan", o->scans->name, o->n_scans, sizeof *o->scans,
                            asked->operand, err);
    if (status == WF_OK)
        status = check_name(asked->station, "station", o->stations->name, o->n_stations,
                            sizeof *o->stations, asked->operand, err);
    if (status == WF_OK)
        status = wf_delay_model_create(&model, o, err);
    delay_table out = {.observation = o, .model = model};
    if (status == WF_OK)
        status = warn_of_orientation(asked, o, model, err);
    if (status == WF_OK)
        status = fill_table(&out, asked, err);
    if (status == WF_OK)
        status = delay_table_print(&out, asked, err);
    wfi_free(out.rows);
    wf_delay_model_destroy(model);
    wf_observation_destroy(o);
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
               "station's geocentric position: east, north, towards the source. A source below\n"
               "the station's horizon, or its elevation_limit_deg, is marked; terms that are off\n"
               "or for which the job has no data are named.\n",
    .options = options,
    .check = check,
    .run = run,
};
