/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The time axis: stretches side by side, gaps between them left out. */
#include "report/time_axis.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LABELS_MAX = 4, LINES_MAX = 40 };

double time_axis_place(size_t i_time)
{
    return (double)i_time + 0.5;
}

/* "12:00:00": the second nearest to an instant. */
static void append_tick(figure *f, wf_instant t, double place, bool first)
{
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, wf_instant_add(t, 0.5), 0);
    wfi_text_append(&f->script, "%s'%.8s' %.6g", first ? "" : ", ", text + 11, place);
}

/* One stretch: ticks at even parts of it. */
static void append_inner_ticks(figure *f, const wf_stretch *stretch)
{
    const double length_s = stretch->interval_s * (double)stretch->n_times;
    const double step_s = fmax(plot_round_step(length_s, LABELS_MAX - 1), 1);
    for (double t = 0; t <= length_s; t += step_s)
        append_tick(f, wf_instant_add(stretch->start, t), t / stretch->interval_s, !(t > 0));
}

static void append_outer_ticks(figure *f, const survey *s)
{
    const size_t n = wf_stretches_n(s->stretches);
    const size_t step = (n + LABELS_MAX - 1) / LABELS_MAX;
    double last = -INFINITY;
    bool first = true;
    for (size_t i = 0; i < n; i += step) {
        const wf_stretch *stretch = wf_stretches_get(s->stretches, i);
        if ((double)stretch->i_first - last < 0.22 * (double)s->n_times)
            continue;
        last = (double)stretch->i_first;
        append_tick(f, stretch->start, last, first);
        first = false;
    }
}

static void append_lines(figure *f, const survey *s)
{
    const size_t n = wf_stretches_n(s->stretches);
    for (size_t i = 1; i < n && n <= LINES_MAX; i++) {
        const double place = (double)wf_stretches_get(s->stretches, i)->i_first;
        wfi_text_append(&f->script,
                        "set arrow %zu from first %.6g, graph 0 to first %.6g, graph 1 nohead "
                        "front linewidth 1 linecolor rgb '" PLOT_LINE "'\n",
                        i, place, place);
    }
}

void time_axis_append(figure *f, const survey *s)
{
    char date[WF_INSTANT_TEXT_BYTES];
    const size_t n = wf_stretches_n(s->stretches);
    const wf_stretch *first = wf_stretches_get(s->stretches, 0);
    wf_instant_format(date, wf_instant_add(first->start, 0.5), 0);
    wfi_text_append(&f->script, "set xrange [0:%zu]\nset xtics norotate (", s->n_times);
    if (n == 1)
        append_inner_ticks(f, first);
    else
        append_outer_ticks(f, s);
    wfi_text_append(&f->script, ")\nset xlabel 'UTC, from %.10s%s'\n", date,
                    n > 1 ? "; gaps left out" : "");
    append_lines(f, s);
}
