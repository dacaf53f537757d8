/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringe in delay and rate: close to the peak with cuts through it, and in the whole window. */
#include "report/baseline_figures.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "measure.h"

/* Points of the close view, odd so that the peak is one of them; cells of resolution from the peak
 * to its edge; points of the whole window, which are the largest of the cells they cover. */
enum { CLOSE_DELAYS = 161, CLOSE_RATES = 121, REACH = 6, WINDOW_DELAYS = 420, WINDOW_RATES = 110 };

/* An axis of the close view, and how its offsets from the peak are written. */
typedef struct axis {
    double values[CLOSE_DELAYS];
    size_t n;
    double reach;
    double peak;
    measure_prefix unit;
} axis;

/* resolution: 1 / bandwidth or 1 / (frequency * stretch); n_inputs: how many fill the window. */
static axis make_axis(double peak, double resolution, size_t n_inputs, size_t n)
{
    axis a = {.n = n_inputs > 1 ? n : 1, .peak = peak};
    a.reach = resolution * fmin(REACH, 0.5 * (double)n_inputs);
    a.unit = measure_prefix_of(a.reach);
    for (size_t i = 0; i < a.n; i++)
        a.values[i] = peak + (a.n > 1 ? a.reach * (2 * (double)i / (double)(a.n - 1) - 1) : 0);
    return a;
}

/* Amplitudes are written in parts of one, of a thousand, or of a million. */
typedef struct amplitude_unit {
    double factor;
    const char *heading;
} amplitude_unit;

static amplitude_unit unit_of_amplitude(double peak)
{
    if (peak >= 0.1)
        return (amplitude_unit){1, "amplitude"};
    if (peak >= 1e-4)
        return (amplitude_unit){1e-3, "amplitude / 10⁻³"};
    return (amplitude_unit){1e-6, "amplitude / 10⁻⁶"};
}

typedef struct view {
    figure *figure;
    wfi_text *script; /* the figure's */
    const survey *survey;
    const wf_stretch_data *data;
    const report_row *row;
    wf_fringe_input input;
    double middle_hz;
    axis delay;
    axis rate;
    amplitude_unit unit;
    double top; /* of the amplitude axes */
} view;

static view make_view(figure *f, const survey *s, const wf_stretch_data *data,
                      const report_row *row)
{
    view v = {.figure = f, .script = &f->script, .survey = s, .data = data, .row = row};
    v.input = wf_stretch_input(data, row->i_band, row->i_product);
    const double bandwidth_hz = (double)v.input.n_channels * v.input.channel_width_hz;
    v.middle_hz = v.input.first_channel_hz + 0.5 * (bandwidth_hz - v.input.channel_width_hz);
    v.delay = make_axis(row->peak.delay_s, 1 / bandwidth_hz, v.input.n_channels, CLOSE_DELAYS);
    v.rate = make_axis(row->peak.rate_s_per_s,
                       1 / (v.middle_hz * (double)v.input.n_times * v.input.interval_s),
                       v.input.n_times, CLOSE_RATES);
    v.unit = unit_of_amplitude(row->peak.amplitude);
    v.top = 1.08 * row->peak.amplitude / v.unit.factor;
    return v;
}

static double offset(const axis *a, size_t i)
{
    return (a->values[i] - a->peak) / a->unit.factor;
}

/* The close view as a matrix, and the cuts through its middle. */
static wf_status append_close_data(const view *v, wf_error *err)
{
    const axis *d = &v->delay;
    const axis *r = &v->rate;
    double *amplitude = NULL;
    WFI_TRY(wfi_allocate(&amplitude, d->n * r->n, sizeof *amplitude, "a picture", err));
    const wf_status status =
        wf_fringe_evaluate(amplitude, &v->input, d->values, d->n, r->values, r->n, err);
    if (status == WF_OK) {
        wfi_text_append(v->script, "$close << EOD\n");
        for (size_t m = 0; m < r->n; m++) {
            for (size_t k = 0; k < d->n; k++)
                wfi_text_append(v->script, "%.5g ", amplitude[m * d->n + k] / v->unit.factor);
            wfi_text_append(v->script, "\n");
        }
        /* cuts are closed along zero amplitude, so that they can be filled */
        wfi_text_append(v->script, "EOD\n$delays << EOD\n%.6g 0\n", offset(d, 0));
        for (size_t k = 0; k < d->n; k++)
            wfi_text_append(v->script, "%.6g %.6g\n", offset(d, k),
                            amplitude[r->n / 2 * d->n + k] / v->unit.factor);
        wfi_text_append(v->script, "%.6g 0\nEOD\n$rates << EOD\n%.6g 0\n", offset(d, d->n - 1),
                        offset(r, 0));
        for (size_t m = 0; m < r->n; m++)
            wfi_text_append(v->script, "%.6g %.6g\n", offset(r, m),
                            amplitude[m * d->n + d->n / 2] / v->unit.factor);
        wfi_text_append(v->script, "%.6g 0\nEOD\n", offset(r, r->n - 1));
    }
    wfi_free(amplitude);
    return status;
}

/* Panels, in points. */
enum { LEFT = 82, MIDDLE = 352, RIGHT = 466, CUT = 60, TOP = 130, BOTTOM = 342 };

static void append_delay_label(const view *v, const char *what)
{
    wfi_text_append(v->script, "set xlabel '%s / %ss'\n", what, v->delay.unit.letter);
}

/* One axis has nothing to resolve: a single large cut along the other. */
static void draw_single_cut(const view *v)
{
    const bool along_delay = v->delay.n > 1;
    const axis *a = along_delay ? &v->delay : &v->rate;
    const double edge = a->reach / a->unit.factor;
    figure_panel(v->figure, LEFT, RIGHT, CUT + 14, BOTTOM);
    wfi_text_append(
        v->script,
        "set xrange [%.6g:%.6g]\nset yrange [0:%.6g]\nset xtics auto norotate format "
        "'%%g'\nset ytics auto format '%%g'\nset ylabel '%s'\n"
        "set xlabel '%s from the peak / %s%s%s'\n"
        "plot $%s using 1:2 every ::1::%zu with lines linewidth 2 linecolor rgb '" PLOT_FIRST_COLOUR
        "'\n",
        -edge, edge, v->top, v->unit.heading, along_delay ? "delay" : "rate",
        along_delay ? "" : "(", a->unit.letter, along_delay ? "s" : "s/s)",
        along_delay ? "delays" : "rates", a->n);
}

static void draw_close_view(const view *v)
{
    const double x = v->delay.reach / v->delay.unit.factor;
    const double y = v->rate.reach / v->rate.unit.factor;
    figure_panel(v->figure, LEFT, MIDDLE, TOP, BOTTOM);
    wfi_text_append(v->script,
                    "unset grid\nset border 15\nset cbrange [0:%.6g]\nunset colorbox\n"
                    "set xrange [%.6g:%.6g]\nset yrange [%.6g:%.6g]\n"
                    "set xtics %.6g norotate format '%%g'\nset ytics auto format '%%g'\n"
                    "set ylabel 'rate from the peak / (%ss/s)'\n",
                    v->row->peak.amplitude / v->unit.factor, -x, x, -y, y,
                    plot_round_step(2 * x, 6), v->rate.unit.letter);
    append_delay_label(v, "delay from the peak");
    wfi_text_append(v->script,
                    "plot $close matrix using (%.9g*$1-%.9g):(%.9g*$2-%.9g):3 with image\n",
                    2 * x / (double)(v->delay.n - 1), x, 2 * y / (double)(v->rate.n - 1), y);
}

/* The amplitude axis of a cut, in few steps. */
static double step_of(const view *v)
{
    return plot_round_step(v->top, 2);
}

static void draw_cuts(const view *v)
{
    const double x = v->delay.reach / v->delay.unit.factor;
    const double y = v->rate.reach / v->rate.unit.factor;
    const char *fill = "with filledcurves closed fillcolor rgb '" PLOT_FILL "'";
    const char *line = "with lines linewidth 1.8 linecolor rgb '" PLOT_FIRST_COLOUR "'";
    figure_panel(v->figure, LEFT, MIDDLE, CUT, TOP - 10);
    wfi_text_append(v->script,
                    "set border 3\nset xtics format ''\nset xlabel ''\nset ylabel ''\n"
                    "set ytics %.6g,%.6g format '%%g'\nset xrange [%.6g:%.6g]\n"
                    "set yrange [0:%.6g]\nset grid ytics\n"
                    "plot $delays using 1:2 %s, $delays using 1:2 every ::1::%zu %s\nunset grid\n",
                    step_of(v), step_of(v), -x, x, v->top, fill, v->delay.n, line);
    figure_panel(v->figure, MIDDLE + 8, RIGHT, TOP, BOTTOM);
    wfi_text_append(v->script,
                    "set xtics %.6g,%.6g format '%%g'\nset xlabel '%s'\n"
                    "set ytics auto format ''\nset ylabel ''\nset xrange [0:%.6g]\n"
                    "set yrange [%.6g:%.6g]\nset grid xtics\n"
                    "plot $rates using 2:1 %s, $rates using 2:1 every ::1::%zu %s\nunset grid\n",
                    step_of(v), step_of(v), v->unit.heading, v->top, -y, y, fill, v->rate.n, line);
}

/* The largest of the surface's cells that fall into each point. */
static void append_window_data(const view *v, const wf_fringe_surface *s, size_t n_x, size_t n_y)
{
    wfi_text_append(v->script, "$window << EOD\n");
    for (size_t m = 0; m < n_y; m++) {
        for (size_t k = 0; k < n_x; k++) {
            double largest = 0;
            for (size_t i = m * s->n_rates / n_y; i < (m + 1) * s->n_rates / n_y; i++) {
                for (size_t j = k * s->n_delays / n_x; j < (k + 1) * s->n_delays / n_x; j++)
                    largest = fmax(largest, s->amplitude[i * s->n_delays + j]);
            }
            wfi_text_append(v->script, "%.4g ", largest / v->unit.factor);
        }
        wfi_text_append(v->script, "\n");
    }
    wfi_text_append(v->script, "EOD\n");
}

static void draw_window(const view *v, const wf_fringe_surface *s)
{
    const size_t n_x = s->n_delays < WINDOW_DELAYS ? s->n_delays : WINDOW_DELAYS;
    const size_t n_y = s->n_rates < WINDOW_RATES ? s->n_rates : WINDOW_RATES;
    const measure_prefix x_unit = measure_prefix_of(s->delay_s[0]);
    const measure_prefix y_unit = measure_prefix_of(s->rate_s_per_s[0]);
    const double x = s->delay_s[0] / x_unit.factor;
    const double y = s->rate_s_per_s[0] / y_unit.factor;
    append_window_data(v, s, n_x, n_y);
    figure_label(v->figure, "the whole window, the peak in a ring", LEFT, 420, "left", FIGURE_NOTE);
    figure_panel(v->figure, LEFT, MIDDLE + 48, 432, 524);
    wfi_text_append(v->script,
                    "set border 15\nset xrange [%.6g:%.6g]\nset yrange [%.6g:%.6g]\n"
                    "set xtics %.6g format '%%g'\nset ytics %.6g format '%%g'\n"
                    "set xlabel 'residual delay / %ss'\n"
                    "set ylabel 'rate / (%ss/s)'\n",
                    x, -x, y, -y, plot_round_step(-2 * x, 5), plot_round_step(-2 * y, 4),
                    x_unit.letter, y_unit.letter);
    wfi_text_append(v->script,
                    "set colorbox user origin screen %.4f,%.4f size screen %.4f,%.4f\n"
                    "set cbtics 0,%.6g format '%%g'\n",
                    (MIDDLE + 60.0) / FIGURE_WIDTH, 1 - 524.0 / v->figure->height,
                    10.0 / FIGURE_WIDTH, 92.0 / v->figure->height, step_of(v));
    figure_label(v->figure, v->unit.heading, RIGHT, 420, "right", FIGURE_NOTE);
    wfi_text_append(
        v->script,
        "set object 1 circle at %.6g,%.6g size screen 0.014 front noclip fillstyle empty "
        "border linecolor rgb '" PLOT_SECOND_COLOUR "' linewidth 1.8\n",
        v->row->peak.delay_s / x_unit.factor, v->row->peak.rate_s_per_s / y_unit.factor);
    wfi_text_append(v->script,
                    "plot $window matrix using (%.9g+%.9g*($1+0.5)):(%.9g+%.9g*($2+0.5)):3 with "
                    "image\nunset object\n",
                    x, -2 * x / (double)n_x, y, -2 * y / (double)n_y);
}

static void append_titles(const view *v)
{
    char pair[SURVEY_PAIR_BYTES];
    char title[SURVEY_PAIR_BYTES + 64];
    char second[2 * MEASURE_BYTES + 32];
    char delay[MEASURE_BYTES];
    char rate[MEASURE_BYTES];
    const wf_fringe_peak *peak = &v->row->peak;
    survey_pair(pair, v->survey, v->row->i_station, v->row->j_station);
    snprintf(title, sizeof title, "%s: %s band %zu, %s", pair,
             report_row_found(v->row) ? "fringe in" : "highest noise in", v->row->i_band + 1,
             survey_product(v->survey, v->row->i_product));
    measure_format(delay, peak->delay_s, peak->delay_error_s, "s");
    measure_format(rate, peak->rate_s_per_s, peak->rate_error_s_per_s, "s/s");
    snprintf(second, sizeof second, "delay %s,  rate %s,  SNR %.1f", delay, rate, peak->snr);
    figure_title(v->figure, title, second);
}

wf_status fringe_figure(figure *f, const survey *s, const wf_stretch_data *data,
                        const report_row *row, wf_error *err)
{
    const wf_fringe_input input = wf_stretch_input(data, row->i_band, row->i_product);
    const bool two_axes = input.n_channels > 1 && input.n_times > 1;
    figure_begin(f, two_axes ? 582 : 400);
    view v = make_view(f, s, data, row);
    wf_fringe_surface *surface = NULL;
    wf_fringe_peak peak;
    WFI_TRY(append_close_data(&v, err));
    WFI_TRY(wf_fringe_transform(&surface, &peak, &v.input, err));
    append_titles(&v);
    if (two_axes) {
        draw_close_view(&v);
        wfi_text_append(v.script, "unset label\n");
        draw_cuts(&v);
        draw_window(&v, surface);
    } else {
        draw_single_cut(&v);
    }
    wf_fringe_surface_destroy(surface);
    return WF_OK;
}
