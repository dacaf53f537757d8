/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Coherence and Allan deviation of one stretch. */
#include "report/stability_figures.h"

#include <math.h>
#include <stdio.h>

/* Curves that are named, in their colours; all others are pale. */
enum { LEFT = 82, RIGHT = 466, NAMED_MAX = 12, KEY_ROW = 19, KEY_COLUMNS = 2, KEY_TOP = 50 };

typedef struct curve_list {
    figure *figure;
    size_t n; /* so far */
    double first_s;
    double last_s;
    double lowest;
    double highest;
} curve_list;

static size_t count(const survey *s, size_t i_stretch, bool allan)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n_baselines; i++) {
        const survey_stability *st = &s->baselines[i].stability;
        n += s->baselines[i].i_stretch == i_stretch &&
             (allan ? st->allan != NULL : st->coherence != NULL);
    }
    return n;
}

static void extend(curve_list *c, double time_s, double value)
{
    c->first_s = c->first_s > 0 ? fmin(c->first_s, time_s) : time_s;
    c->last_s = fmax(c->last_s, time_s);
    if (value > 0) {
        c->lowest = c->lowest > 0 ? fmin(c->lowest, value) : value;
        c->highest = fmax(c->highest, value);
    }
}

/* Room for the key above the plot, and the key. */
static double key_height(size_t n, size_t n_more)
{
    const size_t n_named = (n <= NAMED_MAX ? n : 0) + n_more;
    return KEY_ROW * (double)((n_named + KEY_COLUMNS - 1) / KEY_COLUMNS);
}

static void set_key(figure *f)
{
    wfi_text_append(&f->script,
                    "set key at screen %.4f,%.4f left top horizontal maxcols %d samplen 1.6 "
                    "spacing 1.1 Left reverse width 2 textcolor rgb '" PLOT_INK
                    "' font 'sans-serif,12'\n",
                    10.0 / FIGURE_WIDTH, 1 - (KEY_TOP - 14.0) / f->height, KEY_COLUMNS);
}

static const char *colour_of(size_t i)
{
    return figure_colours[i % (FIGURE_COLOURS - 1)];
}

/* One curve of a plot command; the second round through the colours is dashed. */
static void append_curve(figure *f, const char *data, size_t i, size_t n, const char *name)
{
    if (n > NAMED_MAX) {
        wfi_text_append(&f->script,
                        ", $%s%zu using 1:2 with lines linewidth 1 linecolor rgb '#a3b8c8' notitle",
                        data, i);
        return;
    }
    wfi_text_append(
        &f->script,
        ", $%s%zu using 1:2 with lines linewidth 1.8 dashtype %d linecolor rgb '%s' title ", data,
        i, i < FIGURE_COLOURS - 1 ? 1 : 2, colour_of(i));
    plot_quote(&f->script, name);
}

/* Ticks at powers of ten, or at 1, 2, 5 times them where there are few. */
static void append_time_ticks(figure *f, double first_s, double last_s)
{
    static const int steps[] = {1, 2, 5};
    const bool fine = last_s < 100 * first_s;
    bool any = false;
    wfi_text_append(&f->script, "set xtics norotate (");
    for (double power = pow(10, floor(log10(first_s))); power <= last_s; power *= 10) {
        for (size_t k = 0; k < (fine ? 3U : 1U); k++) {
            const double t = steps[k] * power;
            if (t < first_s || t > last_s)
                continue;
            wfi_text_append(&f->script, "%s'%.4g' %.6g", any ? ", " : "", t, t);
            any = true;
        }
    }
    wfi_text_append(&f->script, ")\n");
}

static void set_time_axis(figure *f, const curve_list *c, const char *label)
{
    const double first_s = c->first_s > 0 ? c->first_s / 1.15 : 0.1;
    const double last_s = c->last_s > 0 ? 1.15 * c->last_s : 1;
    wfi_text_append(
        &f->script,
        "set logscale x\nset xrange [%.6g:%.6g]\nset xlabel '%s'\nset grid xtics ytics\n", first_s,
        last_s, label);
    append_time_ticks(f, first_s, last_s);
}

static void append_coherence(curve_list *c, const wf_coherence *coherence)
{
    wfi_text_append(&c->figure->script, "$c%zu << EOD\n", c->n++);
    for (size_t k = 0; k < coherence->n_points; k++) {
        const wf_coherence_point *p = &coherence->points[k];
        wfi_text_append(&c->figure->script, "%.6g %.6g %.4g\n", p->time_s, p->coherence, p->error);
        extend(c, p->time_s, p->coherence);
    }
    wfi_text_append(&c->figure->script, "EOD\n");
}

void coherence_figure(figure *f, const survey *s, size_t i_stretch)
{
    const size_t n = count(s, i_stretch, false);
    const double key = key_height(n, 0);
    curve_list c = {.figure = f};
    figure_begin(f, (int)(KEY_TOP + key + 302));
    char title[64];
    snprintf(title, sizeof title, "Coherence, stretch %zu", i_stretch + 1);
    figure_title(f, title, NULL);
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (s->baselines[i].i_stretch == i_stretch && s->baselines[i].stability.coherence != NULL)
            append_coherence(&c, s->baselines[i].stability.coherence);
    }
    set_key(f);
    figure_panel(f, LEFT, RIGHT, KEY_TOP + key, KEY_TOP + key + 236);
    set_time_axis(f, &c, "integration time / s");
    wfi_text_append(&f->script,
                    "set yrange [%.3g:1.03]\nset ytics auto format '%%g'\n"
                    "set ylabel 'coherence'\n"
                    "plot 0.9 with lines dashtype 3 linewidth 1.2 linecolor rgb '" PLOT_LINE
                    "' notitle",
                    fmax(0, fmin(0.8, c.lowest - 0.05)));
    for (size_t i = 0, k = 0; i < s->n_baselines; i++) {
        const survey_baseline *b = &s->baselines[i];
        char pair[SURVEY_PAIR_BYTES];
        if (b->i_stretch != i_stretch || b->stability.coherence == NULL)
            continue;
        survey_pair(pair, s, b->i_station, b->j_station);
        append_curve(f, "c", k++, n, pair);
    }
    wfi_text_append(&f->script, "\n");
}

/* What masers and atmospheres give, for so many stations. */
static void append_bounds(curve_list *c, double factor)
{
    enum { POINTS = 40 };
    wfi_text_append(&c->figure->script, "$bounds << EOD\n");
    const double first = c->first_s > 0 ? c->first_s : 1;
    const double last = c->last_s > first ? c->last_s : 2 * first;
    for (int k = 0; k <= POINTS; k++) {
        const double tau_s = first * pow(last / first, (double)k / POINTS);
        const double maser = factor * wf_maser_allan_deviation(tau_s);
        const double air = factor * wf_atmosphere_allan_deviation(tau_s);
        wfi_text_append(&c->figure->script, "%.6g %.6g %.6g\n", tau_s, maser, air);
        extend(c, tau_s, maser);
        extend(c, tau_s, air);
    }
    wfi_text_append(&c->figure->script, "EOD\n");
}

static void begin_allan_plot(figure *f, const curve_list *c, double key)
{
    set_key(f);
    figure_panel(f, LEFT + 16, RIGHT, KEY_TOP + key, KEY_TOP + key + 260);
    set_time_axis(f, c, "averaging time / s");
    wfi_text_append(
        &f->script,
        "set logscale y\nset yrange [%.3g:%.3g]\nset ytics 10 format '1e%%T'\nset mytics 10\nset "
        "ylabel 'Allan deviation' offset 0,0\n"
        "plot $bounds using 1:2 with lines dashtype 3 linewidth 1.6 linecolor rgb '" PLOT_INK
        "' title 'hydrogen maser', $bounds using 1:3 with lines dashtype 4 linewidth 1.6 linecolor "
        "rgb '" PLOT_LINE "' title 'mean atmosphere'",
        pow(10, floor(log10(c->lowest > 0 ? c->lowest : 1e-15))),
        pow(10, ceil(log10(c->highest > 0 ? c->highest : 1e-12))));
}

static void append_allan(curve_list *c, const wf_allan *allan)
{
    wfi_text_append(&c->figure->script, "$a%zu << EOD\n", c->n++);
    for (size_t k = 0; k < allan->n_points; k++) {
        const wf_allan_point *p = &allan->points[k];
        wfi_text_append(&c->figure->script, "%.6g %.6g\n", p->tau_s, p->deviation);
        extend(c, p->tau_s, p->deviation);
    }
    wfi_text_append(&c->figure->script, "EOD\n");
}

void allan_figure(figure *f, const survey *s, size_t i_stretch)
{
    const size_t n = count(s, i_stretch, true);
    const double key = key_height(n, 2);
    curve_list c = {.figure = f};
    figure_begin(f, (int)(KEY_TOP + key + 326));
    char title[80];
    snprintf(title, sizeof title, "Allan deviation of baselines, stretch %zu", i_stretch + 1);
    figure_title(f, title, NULL);
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (s->baselines[i].i_stretch == i_stretch && s->baselines[i].stability.allan != NULL)
            append_allan(&c, s->baselines[i].stability.allan);
    }
    append_bounds(&c, sqrt(2));
    begin_allan_plot(f, &c, key);
    for (size_t i = 0, k = 0; i < s->n_baselines; i++) {
        const survey_baseline *b = &s->baselines[i];
        char pair[SURVEY_PAIR_BYTES];
        if (b->i_stretch != i_stretch || b->stability.allan == NULL)
            continue;
        survey_pair(pair, s, b->i_station, b->j_station);
        append_curve(f, "a", k++, n, pair);
    }
    wfi_text_append(&f->script, "\n");
}

static bool any_solved(const survey_stretch_stability *st, size_t i_station)
{
    bool any = false;
    for (size_t k = 0; k < st->n_points; k++) {
        const wf_allan_station_point *p = &st->allan[i_station * st->n_points + k];
        any = any || (p->solved && p->deviation > 0);
    }
    return any;
}

void station_allan_figure(figure *f, const survey *s, size_t i_stretch)
{
    const survey_stretch_stability *st = &s->stabilities[i_stretch];
    size_t n = 0;
    for (size_t i = 0; i < s->info->n_stations; i++)
        n += any_solved(st, i);
    const double key = key_height(n, 2);
    curve_list c = {.figure = f};
    figure_begin(f, (int)(KEY_TOP + key + 326));
    char title[80];
    snprintf(title, sizeof title, "Allan deviation of stations, stretch %zu", i_stretch + 1);
    figure_title(f, title, NULL);
    for (size_t i = 0; i < s->info->n_stations; i++) {
        if (!any_solved(st, i))
            continue;
        wfi_text_append(&f->script, "$s%zu << EOD\n", c.n++);
        for (size_t k = 0; k < st->n_points; k++) {
            const wf_allan_station_point *p = &st->allan[i * st->n_points + k];
            if (p->solved && p->deviation > 0) {
                wfi_text_append(&f->script, "%.6g %.6g\n", p->tau_s, p->deviation);
                extend(&c, p->tau_s, p->deviation);
            }
        }
        wfi_text_append(&f->script, "EOD\n");
    }
    append_bounds(&c, 1);
    begin_allan_plot(f, &c, key);
    for (size_t i = 0, k = 0; i < s->info->n_stations; i++) {
        if (any_solved(st, i))
            append_curve(f, "s", k++, n, s->info->station_names[i]);
    }
    wfi_text_append(&f->script, "\n");
}
