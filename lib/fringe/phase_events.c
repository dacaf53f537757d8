/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Jumps, slips and rate changes: the strongest is found and taken out, until none is left. */
#include <whitefringe/stability.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/phase_steps.h"
#include "statistics/student.h"

enum { WINDOW_MAX = 128, WINDOWS_A_STRETCH = 8, SLOPE_WINDOW_MIN = 4 };
/* A step looks like a change of slope half a window off, and is then 0.87 to 0.92 times as strong
 * (of windows of 128 to 4, by numpy); a change of slope looks like a step, 0.26 times as strong. */
static const double SLOPE_OVER_OFFSET = 1.5;
/* A slip is a whole number of turns to so many errors, themselves below so many rad. */
static const double SLIP_ERRORS = 3;
static const double SLIP_ERROR_MAX_RAD = 0.6;

/* The strongest step of one kind. */
typedef struct candidate {
    size_t i_boundary;
    size_t n;
    double size; /* rad, rad an integration */
    double error;
    double strength; /* over the limit */
    double probability;
} candidate;

static size_t count_trials(size_t n_times)
{
    size_t n_windows = 0;
    for (size_t n = 2; n <= WINDOW_MAX && n * WINDOWS_A_STRETCH <= n_times; n *= 2)
        n_windows += n >= SLOPE_WINDOW_MIN ? 2 : 1;
    return n_windows * n_times;
}

static void look(candidate *best, const double *x, size_t n_times, size_t n, wfi_step_kind kind,
                 const wfi_step_scatter *scatter, double limit)
{
    for (size_t b = n; b + n <= n_times; b++) {
        double size = 0;
        double factor = 0;
        if (!wfi_phase_step(&size, &factor, x, n_times, b, n, kind))
            continue;
        const double deviation = (size / factor - scatter->median) / scatter->spread;
        if (!(fabs(deviation) > best->strength * limit))
            continue;
        *best = (candidate){.i_boundary = b,
                            .n = n,
                            .size = size - scatter->median * factor,
                            .error = scatter->spread * factor,
                            .strength = fabs(deviation) / limit,
                            .probability = wfi_student_beyond(scatter->n_freedom, fabs(deviation))};
    }
}

static wf_status strongest(candidate *best, const double *x, size_t n_times, wfi_step_kind kind,
                           double probability, wf_error *err)
{
    *best = (candidate){0};
    const size_t n_min = kind == WFI_STEP_SLOPE ? SLOPE_WINDOW_MIN : 2;
    for (size_t n = n_min; n <= WINDOW_MAX && n * WINDOWS_A_STRETCH <= n_times; n *= 2) {
        wfi_step_scatter scatter;
        WFI_TRY(wfi_phase_step_scatter(&scatter, x, n_times, n, kind, err));
        if (scatter.n_freedom == 0)
            continue;
        const double limit = wfi_student_quantile_beyond(scatter.n_freedom, probability);
        look(best, x, n_times, n, kind, &scatter, limit);
    }
    return WF_OK;
}

static void take_out(double *x, size_t n_times, const candidate *c, wfi_step_kind kind)
{
    for (size_t t = c->i_boundary; t < n_times; t++)
        x[t] -= kind == WFI_STEP_SLOPE ? c->size * ((double)(t - c->i_boundary) + 0.5) : c->size;
}

static wf_phase_event make_event(const candidate *c, wfi_step_kind kind, double interval_s,
                                 size_t n_trials)
{
    wf_phase_event event = {
        .kind = kind == WFI_STEP_SLOPE ? WF_PHASE_RATE_CHANGE : WF_PHASE_JUMP,
        .time_s = (double)c->i_boundary * interval_s,
        .time_error_s = interval_s * (0.5 + (double)c->n * c->error / fabs(c->size)),
        .size = c->size,
        .error = c->error,
        .false_alarm = fmin((double)n_trials * c->probability, 1),
        .n_window = c->n,
    };
    if (kind == WFI_STEP_SLOPE) {
        event.size /= interval_s;
        event.error /= interval_s;
        return event;
    }
    const double turns = rint(c->size / WFI_RAD_PER_TURN);
    if (turns != 0 && c->error < SLIP_ERROR_MAX_RAD &&
        fabs(c->size - turns * WFI_RAD_PER_TURN) < SLIP_ERRORS * c->error) {
        event.kind = WF_PHASE_SLIP;
        event.turns = (int)turns;
    }
    return event;
}

static wf_status find(wf_phase_events *out, double interval_s, double false_alarm, wf_error *err)
{
    const size_t n_trials = count_trials(out->n_times);
    if (n_trials == 0)
        return WF_OK;
    const double probability = false_alarm / (double)n_trials;
    while (out->n_events < WF_PHASE_EVENTS_MAX) {
        candidate offset;
        candidate slope;
        WFI_TRY(
            strongest(&offset, out->phase_rad, out->n_times, WFI_STEP_OFFSET, probability, err));
        WFI_TRY(strongest(&slope, out->phase_rad, out->n_times, WFI_STEP_SLOPE, probability, err));
        const bool is_slope = slope.strength > SLOPE_OVER_OFFSET * offset.strength ||
                              (offset.strength < 1 && slope.strength >= 1);
        const wfi_step_kind kind = is_slope ? WFI_STEP_SLOPE : WFI_STEP_OFFSET;
        candidate *best = is_slope ? &slope : &offset;
        if (best->strength < 1)
            break;
        const wf_phase_event event = make_event(best, kind, interval_s, n_trials);
        out->events[out->n_events++] = event;
        if (event.kind == WF_PHASE_SLIP)
            best->size = event.turns * WFI_RAD_PER_TURN;
        take_out(out->phase_rad, out->n_times, best, kind);
    }
    return WF_OK;
}

static int by_time(const void *a, const void *b)
{
    const wf_phase_event *x = a;
    const wf_phase_event *y = b;
    if (x->time_s != y->time_s)
        return x->time_s < y->time_s ? -1 : 1;
    return (int)x->kind - (int)y->kind;
}

static wf_status make(wf_phase_events **out, const wf_fringe_phase *phase, wf_error *err)
{
    static const char what[] = "events of a phase";
    WFI_TRY(wfi_allocate(out, 1, sizeof **out, what, err));
    wf_phase_events *made = *out;
    WFI_TRY(wfi_allocate(&made->events, WF_PHASE_EVENTS_MAX, sizeof *made->events, what, err));
    WFI_TRY(wfi_allocate(&made->phase_rad, phase->n_times, sizeof(double), what, err));
    made->n_times = phase->n_times;
    memcpy(made->phase_rad, phase->phase_rad, phase->n_times * sizeof(double));
    return WF_OK;
}

wf_status wf_phase_events_find(wf_phase_events **out, const wf_fringe_phase *phase,
                               double false_alarm, wf_error *err)
{
    *out = NULL;
    if (!(false_alarm > 0 && false_alarm < 1))
        return wfi_fail(err, WF_ARGUMENT,
                        "events of a phase at a false-alarm probability of %g; give one between 0 "
                        "and 1",
                        false_alarm);
    wf_phase_events *made = NULL;
    wf_status status = make(&made, phase, err);
    if (status == WF_OK)
        status = find(made, phase->interval_s, false_alarm, err);
    if (status == WF_OK) {
        qsort(made->events, made->n_events, sizeof *made->events, by_time);
        *out = made;
    } else {
        wf_phase_events_destroy(made);
    }
    return status;
}

void wf_phase_events_destroy(wf_phase_events *events)
{
    if (events == NULL)
        return;
    wfi_free(events->events);
    wfi_free(events->phase_rad);
    wfi_free(events);
}
