/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Amplitude and phase of one baseline in time. */
#include <complex.h>
#include <math.h>
#include <stdio.h>

#include "report/stability_figures.h"

enum { LEFT = 82, RIGHT = 466, TOP = 60, MIDDLE = 160, BOTTOM = 312, POINTS_MAX = 500 };
static const double DEG_PER_RAD = 57.29577951308232088;

typedef struct extent {
    double amplitude;
    double low_deg;
    double high_deg;
} extent;

static extent append_data(figure *f, const survey_phase *p)
{
    const size_t n = p->series->n_times;
    const size_t step = 1 + (n - 1) / POINTS_MAX;
    extent e = {0, INFINITY, -INFINITY};
    wfi_text_append(&f->script, "$t << EOD\nNaN NaN NaN\n");
    for (size_t t = 0; t < n; t += step) {
        const double degrees = DEG_PER_RAD * p->phase->phase_rad[t];
        const double amplitude = cabs(p->series->fringe[t]);
        if (!isfinite(degrees) || !isfinite(p->series->sigma[t]))
            continue;
        wfi_text_append(&f->script, "%.6g %.6g %.4f\n", ((double)t + 0.5) * p->series->interval_s,
                        amplitude, degrees);
        e.amplitude = fmax(e.amplitude, amplitude);
        e.low_deg = fmin(e.low_deg, degrees);
        e.high_deg = fmax(e.high_deg, degrees);
    }
    wfi_text_append(&f->script, "EOD\n");
    return e;
}

static void draw_phase(figure *f, extent e)
{
    /* never so close that noise of a degree fills the plot */
    const double middle = isfinite(e.low_deg) ? 0.5 * (e.low_deg + e.high_deg) : 0;
    const double half = isfinite(e.low_deg) ? fmax(0.55 * (e.high_deg - e.low_deg), 20) : 20;
    figure_y_axis(f, middle - half, middle + half, 4);
    wfi_text_append(&f->script,
                    "set ylabel 'phase / °'\nplot $t using 1:3 with points pointtype 7 pointsize "
                    "0.28 linecolor rgb '" PLOT_FIRST_COLOUR "'\n");
}

void phase_figure(figure *f, const survey *s, const survey_baseline *b, const survey_phase *p)
{
    const double length_s = p->series->interval_s * (double)p->series->n_times;
    char pair[SURVEY_PAIR_BYTES];
    char title[SURVEY_PAIR_BYTES + 16];
    char note[96] = "all bands, residual delay and rate taken out";
    figure_begin(f, BOTTOM + 66);
    survey_pair(pair, s, b->i_station, b->j_station);
    snprintf(title, sizeof title, "%s: in time", pair);
    if (p->n_averaged > 1)
        snprintf(note, sizeof note, "delay and rate taken out; %zu integrations to a point",
                 p->n_averaged);
    figure_title(f, title, note);
    const extent e = append_data(f, p);
    wfi_text_append(
        &f->script,
        "set xrange [0:%.6g]\nset xtics %.6g norotate format ''\nset ylabel 'amplitude'\n",
        length_s, plot_round_step(length_s, 5));
    figure_panel(f, LEFT, RIGHT, TOP, MIDDLE);
    plot_power_axis(&f->script, e.amplitude, 3);
    wfi_text_append(
        &f->script,
        "plot $t using 1:2 with points pointtype 7 pointsize 0.28 linecolor rgb "
        "'" PLOT_FIRST_COLOUR
        "'\nunset label\nset xtics format '%%g'\nset xlabel 'time since the start / s'\n");
    figure_panel(f, LEFT, RIGHT, MIDDLE + 18, BOTTOM);
    draw_phase(f, e);
}
