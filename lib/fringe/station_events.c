/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whose the events and lines of baselines are: each is measured on all of them. */
#include <whitefringe/stability.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/attribution.h"
#include "fringe/phase_spectrum.h"
#include "fringe/phase_steps.h"

/* An event or a line of one baseline. */
typedef struct item {
    size_t i_baseline;
    size_t i;        /* among the baseline's own */
    double strength; /* size over error */
    bool is_told;
} item;

/* All baselines, their items, and room for one measurement. */
typedef struct work {
    const wf_event_baseline *baselines;
    size_t n_baselines;
    double interval_s;
    item *items;
    size_t n_items;
    wfi_event_measure *measures; /* [n_baselines] */
    double *phase;               /* [n_times] */
} work;

static wf_status check(const wf_event_baseline *baselines, size_t n, double interval_s,
                       wf_error *err)
{
    if (n == 0 || !(interval_s > 0))
        return wfi_fail(err, WF_ARGUMENT, "events of %zu baselines, integrations of %g s", n,
                        interval_s);
    for (size_t b = 0; b < n; b++) {
        if (baselines[b].i_station == baselines[b].j_station)
            return wfi_fail(err, WF_ARGUMENT, "events of baseline %zu: both stations are %zu",
                            b + 1, baselines[b].i_station);
        if (baselines[b].events->n_times != baselines[0].events->n_times)
            return wfi_fail(err, WF_ARGUMENT,
                            "events of baseline %zu are of %zu integrations, those of baseline 1 "
                            "of %zu: give baselines of one stretch",
                            b + 1, baselines[b].events->n_times, baselines[0].events->n_times);
    }
    return WF_OK;
}

static const wf_phase_event *event_of(const work *w, const item *of)
{
    return &w->baselines[of->i_baseline].events->events[of->i];
}

static const wf_phase_line *line_of(const work *w, const item *of)
{
    return &w->baselines[of->i_baseline].spectrum->lines[of->i];
}

static size_t count_lines(const wf_event_baseline *baseline)
{
    return baseline->spectrum != NULL ? baseline->spectrum->n_lines : 0;
}

/* The surest first: the order is total, so that results never depend on the sort. */
static int by_strength(const void *a, const void *b)
{
    const item *x = a;
    const item *y = b;
    if (x->strength != y->strength)
        return x->strength > y->strength ? -1 : 1;
    if (x->i_baseline != y->i_baseline)
        return x->i_baseline < y->i_baseline ? -1 : 1;
    return (x->i > y->i) - (x->i < y->i);
}

static void list_events(work *w)
{
    w->n_items = 0;
    for (size_t b = 0; b < w->n_baselines; b++) {
        for (size_t i = 0; i < w->baselines[b].events->n_events; i++) {
            const wf_phase_event *e = &w->baselines[b].events->events[i];
            w->items[w->n_items++] =
                (item){.i_baseline = b, .i = i, .strength = fabs(e->size) / e->error};
        }
    }
    qsort(w->items, w->n_items, sizeof *w->items, by_strength);
}

static void list_lines(work *w)
{
    w->n_items = 0;
    for (size_t b = 0; b < w->n_baselines; b++) {
        for (size_t i = 0; i < count_lines(&w->baselines[b]); i++) {
            const wf_phase_line *l = &w->baselines[b].spectrum->lines[i];
            w->items[w->n_items++] = (item){
                .i_baseline = b, .i = i, .strength = l->amplitude_rad / l->amplitude_error_rad};
        }
    }
    qsort(w->items, w->n_items, sizeof *w->items, by_strength);
}

static bool is_slope(const wf_phase_event *e)
{
    return e->kind == WF_PHASE_RATE_CHANGE;
}

static bool are_one_event(const wf_phase_event *a, const wf_phase_event *b)
{
    return is_slope(a) == is_slope(b) &&
           fabs(a->time_s - b->time_s) <= a->time_error_s + b->time_error_s;
}

/* The phase of a baseline with the one event in it and all others taken out. */
static void restore(double *phase, const wf_phase_events *events, const wf_phase_event *event,
                    double interval_s)
{
    memcpy(phase, events->phase_rad, events->n_times * sizeof *phase);
    for (size_t i = 0; i < events->n_events; i++) {
        const wf_phase_event *e = &events->events[i];
        if (!are_one_event(e, event))
            continue;
        const double offset_s = e->time_s - 0.5 * interval_s;
        const double size = e->kind == WF_PHASE_SLIP ? e->turns * WFI_RAD_PER_TURN : e->size;
        for (size_t t = (size_t)rint(e->time_s / interval_s); t < events->n_times; t++)
            phase[t] += is_slope(e) ? size * ((double)t * interval_s - offset_s) : size;
    }
}

/* Sizes in rad, or rad an integration. */
static wf_status measure_event(wfi_event_measure *out, work *w, size_t b,
                               const wf_phase_event *event, wf_error *err)
{
    const wf_event_baseline *of = &w->baselines[b];
    const wfi_step_kind kind = is_slope(event) ? WFI_STEP_SLOPE : WFI_STEP_OFFSET;
    const size_t boundary = (size_t)rint(event->time_s / w->interval_s);
    *out = (wfi_event_measure){.i_station = of->i_station, .j_station = of->j_station};
    wfi_step_scatter scatter;
    WFI_TRY(wfi_phase_step_scatter(&scatter, of->events->phase_rad, of->events->n_times,
                                   event->n_window, kind, err));
    restore(w->phase, of->events, event, w->interval_s);
    double size = 0;
    double factor = 0;
    if (scatter.n_freedom == 0 || !wfi_phase_step(&size, &factor, w->phase, of->events->n_times,
                                                  boundary, event->n_window, kind))
        return WF_OK;
    out->value = size - scatter.median * factor;
    out->error = scatter.spread * factor;
    return WF_OK;
}

static void tell_event(wf_station_events *out, work *w, size_t i_seed, const wfi_attribution *a)
{
    const wf_phase_event *seed = event_of(w, &w->items[i_seed]);
    const wf_event_baseline *of = &w->baselines[w->items[i_seed].i_baseline];
    wf_station_event told = {
        .i_station = of->i_station, .j_station = of->j_station, .event = *seed};
    told.n_baselines = 1;
    if (a->assigned) {
        const double scale = is_slope(seed) ? 1 / w->interval_s : 1;
        told = (wf_station_event){true, a->i_station, a->i_station, a->n_baselines, *seed};
        told.event.size = creal(a->value) * scale;
        told.event.error = a->error * scale;
        told.event.turns = of->j_station == a->i_station ? -seed->turns : seed->turns;
    }
    out->events[out->n_events++] = told;
    w->items[i_seed].is_told = true;
    for (size_t k = 0; k < w->n_items && a->assigned; k++) {
        const wf_event_baseline *other = &w->baselines[w->items[k].i_baseline];
        if ((other->i_station == a->i_station || other->j_station == a->i_station) &&
            are_one_event(event_of(w, &w->items[k]), seed))
            w->items[k].is_told = true;
    }
}

static wf_status find_events(wf_station_events *out, work *w, wf_error *err)
{
    list_events(w);
    for (size_t k = 0; k < w->n_items; k++) {
        if (w->items[k].is_told)
            continue;
        const wf_phase_event *seed = event_of(w, &w->items[k]);
        for (size_t b = 0; b < w->n_baselines; b++)
            WFI_TRY(measure_event(&w->measures[b], w, b, seed, err));
        const wfi_attribution a = wfi_attribute(w->measures, w->n_baselines, w->items[k].i_baseline,
                                                1, seed->kind == WF_PHASE_JUMP);
        tell_event(out, w, k, &a);
    }
    return WF_OK;
}

static bool are_one_line(const wf_phase_line *a, const wf_phase_line *b, double step_hz)
{
    return fabs(a->frequency_hz - b->frequency_hz) <= step_hz;
}

static double background_at(const wf_phase_spectrum *spectrum, double frequency_hz)
{
    const size_t k = (size_t)fmax(rint(frequency_hz / spectrum->step_hz), 0);
    return spectrum->background[k < spectrum->n_bins ? k : spectrum->n_bins - 1];
}

static wf_status measure_line(wfi_event_measure *out, const work *w, size_t b,
                              const wf_phase_line *line, wf_error *err)
{
    const wf_event_baseline *of = &w->baselines[b];
    *out = (wfi_event_measure){.i_station = of->i_station, .j_station = of->j_station};
    if (of->spectrum == NULL)
        return WF_OK;
    wfi_tapered in;
    const wf_status status = wfi_tapered_fill(&in, of->events->phase_rad, of->events->n_times, err);
    if (status == WF_OK) {
        out->value = wfi_tapered_amplitude(&in, line->frequency_hz * w->interval_s);
        out->error = wfi_tapered_amplitude_error(
            &in, background_at(of->spectrum, line->frequency_hz), w->interval_s);
    }
    wfi_tapered_release(&in);
    return status;
}

static void tell_line(wf_station_events *out, work *w, size_t i_seed, const wfi_attribution *a)
{
    const wf_phase_line *seed = line_of(w, &w->items[i_seed]);
    const wf_event_baseline *of = &w->baselines[w->items[i_seed].i_baseline];
    wf_station_line told = {false, of->i_station, of->j_station, 1, *seed};
    if (a->assigned) {
        told = (wf_station_line){true, a->i_station, a->i_station, a->n_baselines, *seed};
        told.line.amplitude_rad = cabs(a->value);
        told.line.amplitude_error_rad = a->error;
        told.line.phase_rad = carg(a->value);
    }
    out->lines[out->n_lines++] = told;
    w->items[i_seed].is_told = true;
    for (size_t k = 0; k < w->n_items && a->assigned; k++) {
        const wf_event_baseline *other = &w->baselines[w->items[k].i_baseline];
        if ((other->i_station == a->i_station || other->j_station == a->i_station) &&
            are_one_line(line_of(w, &w->items[k]), seed, other->spectrum->step_hz))
            w->items[k].is_told = true;
    }
}

static wf_status find_lines(wf_station_events *out, work *w, wf_error *err)
{
    list_lines(w);
    for (size_t k = 0; k < w->n_items; k++) {
        if (w->items[k].is_told)
            continue;
        const wf_phase_line *seed = line_of(w, &w->items[k]);
        for (size_t b = 0; b < w->n_baselines; b++)
            WFI_TRY(measure_line(&w->measures[b], w, b, seed, err));
        const wfi_attribution a =
            wfi_attribute(w->measures, w->n_baselines, w->items[k].i_baseline, 2, false);
        tell_line(out, w, k, &a);
    }
    return WF_OK;
}

static int by_time(const void *a, const void *b)
{
    const wf_station_event *x = a;
    const wf_station_event *y = b;
    if (x->event.time_s != y->event.time_s)
        return x->event.time_s < y->event.time_s ? -1 : 1;
    if (x->i_station != y->i_station)
        return x->i_station < y->i_station ? -1 : 1;
    return (x->j_station > y->j_station) - (x->j_station < y->j_station);
}

static int by_frequency(const void *a, const void *b)
{
    const wf_station_line *x = a;
    const wf_station_line *y = b;
    if (x->line.frequency_hz != y->line.frequency_hz)
        return x->line.frequency_hz < y->line.frequency_hz ? -1 : 1;
    if (x->i_station != y->i_station)
        return x->i_station < y->i_station ? -1 : 1;
    return (x->j_station > y->j_station) - (x->j_station < y->j_station);
}

static wf_status make(wf_station_events **out, work *w, wf_error *err)
{
    static const char what[] = "events of stations";
    size_t n_events = 0;
    size_t n_lines = 0;
    for (size_t b = 0; b < w->n_baselines; b++) {
        n_events += w->baselines[b].events->n_events;
        n_lines += count_lines(&w->baselines[b]);
    }
    const size_t n_items = n_events > n_lines ? n_events : n_lines;
    WFI_TRY(wfi_allocate(out, 1, sizeof **out, what, err));
    WFI_TRY(wfi_allocate(&(*out)->events, n_events, sizeof *(*out)->events, what, err));
    WFI_TRY(wfi_allocate(&(*out)->lines, n_lines, sizeof *(*out)->lines, what, err));
    WFI_TRY(wfi_allocate(&w->items, n_items, sizeof *w->items, what, err));
    WFI_TRY(wfi_allocate(&w->measures, w->n_baselines, sizeof *w->measures, what, err));
    return wfi_allocate(&w->phase, w->baselines[0].events->n_times, sizeof(double), what, err);
}

wf_status wf_station_events_find(wf_station_events **out, const wf_event_baseline *baselines,
                                 size_t n_baselines, double interval_s, wf_error *err)
{
    *out = NULL;
    WFI_TRY(check(baselines, n_baselines, interval_s, err));
    work w = {.baselines = baselines, .n_baselines = n_baselines, .interval_s = interval_s};
    wf_station_events *made = NULL;
    wf_status status = make(&made, &w, err);
    if (status == WF_OK)
        status = find_events(made, &w, err);
    if (status == WF_OK)
        status = find_lines(made, &w, err);
    if (status == WF_OK) {
        qsort(made->events, made->n_events, sizeof *made->events, by_time);
        qsort(made->lines, made->n_lines, sizeof *made->lines, by_frequency);
        *out = made;
        made = NULL;
    }
    wf_station_events_destroy(made);
    wfi_free(w.items);
    wfi_free(w.measures);
    wfi_free(w.phase);
    return status;
}

void wf_station_events_destroy(wf_station_events *events)
{
    if (events == NULL)
        return;
    wfi_free(events->events);
    wfi_free(events->lines);
    wfi_free(events);
}
