/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closure phases and delays of one stretch. */
#include "report/closure_figure.h"

#include <math.h>
#include <stdio.h>

#include "measure.h"

enum { LEFT = 82, RIGHT = 466, TOP = 56, MIDDLE = 170, BOTTOM = 300, NAMED_MAX = 10, NAMES = 56 };
static const double DEG_PER_RAD = 57.29577951308232088;

/* "x value error" lines; returns how far the axis must reach. */
static double append_data(figure *f, const char *name, const wf_closure *closures, size_t n,
                          double factor)
{
    double reach = 0;
    wfi_text_append(&f->script, "$%s << EOD\nNaN NaN NaN\n", name);
    for (size_t i = 0; i < n; i++) {
        wfi_text_append(&f->script, "%.1f %.6g %.6g\n", (double)i + 0.5, factor * closures[i].value,
                        factor * closures[i].error);
        reach = fmax(reach, factor * (fabs(closures[i].value) + 1.2 * closures[i].error));
    }
    wfi_text_append(&f->script, "EOD\n");
    return reach > 0 ? reach : 1;
}

static void draw_panel(figure *f, const char *name, double reach)
{
    figure_y_axis(f, -1.1 * reach, 1.1 * reach, 4);
    wfi_text_append(
        &f->script,
        "plot 0 with lines linewidth 1 linecolor rgb '" PLOT_LINE
        "', $%s using 1:($2-$3):(0):(2*$3) with vectors nohead linewidth 1.4 linecolor rgb '%s', "
        "$%s using 1:2 with points pointtype 7 pointsize 0.5 linecolor rgb '%s'\n",
        name, PLOT_FIRST_COLOUR, name, PLOT_FIRST_COLOUR);
}

/* Triangles by the names of their stations, or by their number where there are many. */
static void append_names(figure *f, const survey *s, const survey_solution *solution)
{
    const size_t n = solution->n_phase_closures;
    wfi_text_append(&f->script, "set xtics scale 0 %s (",
                    n <= NAMED_MAX ? "rotate by 35 right" : "norotate");
    for (size_t i = 0; i < n && n <= NAMED_MAX; i++) {
        char text[64];
        const wf_closure *c = &solution->phase_closures[i];
        snprintf(text, sizeof text, "%.4s %.4s %.4s", s->info->station_names[c->i_station],
                 s->info->station_names[c->j_station], s->info->station_names[c->k_station]);
        wfi_text_append(&f->script, i > 0 ? ", " : "");
        plot_quote(&f->script, text);
        wfi_text_append(&f->script, " %.1f", (double)i + 0.5);
    }
    wfi_text_append(&f->script, ") font ',12'\n");
    if (n > NAMED_MAX)
        wfi_text_append(&f->script, "set xlabel '%zu triangles, in the order of their stations'\n",
                        n);
}

void closure_figure(figure *f, const survey *s, size_t i_stretch)
{
    const survey_solution *solution = &s->solutions[i_stretch];
    const size_t n = solution->n_phase_closures;
    double largest_s = 0;
    for (size_t i = 0; i < solution->n_delay_closures; i++)
        largest_s = fmax(largest_s, fabs(solution->delay_closures[i].value) +
                                        solution->delay_closures[i].error);
    const measure_prefix unit = measure_prefix_of(largest_s);
    figure_begin(f, BOTTOM + (n <= NAMED_MAX ? 92 : NAMES));
    char title[48];
    snprintf(title, sizeof title, "Closures, stretch %zu", i_stretch + 1);
    figure_title(f, title, NULL);
    const double phase = append_data(f, "phase", solution->phase_closures, n, DEG_PER_RAD);
    const double delay = append_data(f, "delay", solution->delay_closures,
                                     solution->n_delay_closures, 1 / unit.factor);
    wfi_text_append(&f->script,
                    "set xrange [0:%zu]\nset xtics scale 0 ('' 0)\nset ylabel 'phase / °'\n", n);
    figure_panel(f, LEFT, RIGHT, TOP - 16, MIDDLE);
    draw_panel(f, "phase", phase);
    wfi_text_append(&f->script, "unset label\nset ylabel 'delay / %ss'\n", unit.letter);
    append_names(f, s, solution);
    figure_panel(f, LEFT, RIGHT, MIDDLE + 16, BOTTOM);
    draw_panel(f, "delay", delay);
}
