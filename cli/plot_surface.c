/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The right half of a baseline's page: the fringe in delay and rate. */
#include "plot_surface.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "measure.h"
#include "plot.h"

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
    wfi_text *script;
    const wf_stretch_data *data;
    const report_row *row;
    wf_fringe_input input;
    double middle_hz;
    axis delay;
    axis rate;
    amplitude_unit unit;
    double top; /* of the amplitude axes */
} view;

static view make_view(wfi_text *script, const wf_stretch_data *data, const report_row *row)
{
    view v = {.script = script, .data = data, .row = row};
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

static void set_margins(const view *v, double left, double right, double bottom, double top)
{
    wfi_text_append(v->script,
                    "set lmargin at screen %.3f\nset rmargin at screen %.3f\n"
                    "set bmargin at screen %.3f\nset tmargin at screen %.3f\n",
                    left, right, bottom, top);
}

static void append_delay_label(const view *v, const char *what)
{
    wfi_text_append(v->script, "set xlabel '%s / %ss' offset 0,0.3\n", what, v->delay.unit.letter);
}

/* One axis has nothing to resolve: a single large cut along the other. */
static void draw_single_cut(const view *v)
{
    const bool along_delay = v->delay.n > 1;
    const axis *a = along_delay ? &v->delay : &v->rate;
    const double edge = a->reach / a->unit.factor;
    set_margins(v, 0.60, 0.95, 0.40, 0.83);
    wfi_text_append(
        v->script,
        "set xrange [%.6g:%.6g]\nset yrange [0:%.6g]\nset xtics auto norotate format "
        "'%%g'\nset ytics auto format '%%g'\nset ylabel '%s' offset 0.5,0\n"
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
    set_margins(v, 0.60, 0.85, 0.415, 0.735);
    wfi_text_append(v->script,
                    "unset grid\nset border 15\nset cbrange [0:%.6g]\nunset colorbox\n"
                    "set xrange [%.6g:%.6g]\nset yrange [%.6g:%.6g]\n"
                    "set xtics auto norotate format '%%g'\nset ytics auto format '%%g'\n"
                    "set ylabel 'rate from the peak / (%ss/s)' offset 0.5,0\n",
                    v->row->peak.amplitude / v->unit.factor, -x, x, -y, y, v->rate.unit.letter);
    append_delay_label(v, "delay from the peak");
    wfi_text_append(v->script,
                    "plot $close matrix using (%.9g*$1-%.9g):(%.9g*$2-%.9g):3 with image\n",
                    2 * x / (double)(v->delay.n - 1), x, 2 * y / (double)(v->rate.n - 1), y);
}

/* The amplitude axis of a cut, in few steps. */
static double step_of(const view *v)
{
    return plot_round_step(v->top, 3);
}

static void draw_cuts(const view *v)
{
    const double x = v->delay.reach / v->delay.unit.factor;
    const double y = v->rate.reach / v->rate.unit.factor;
    const char *fill = "with filledcurves closed fillcolor rgb '#dbe8f1'";
    const char *line = "with lines linewidth 1.8 linecolor rgb '" PLOT_FIRST_COLOUR "'";
    set_margins(v, 0.60, 0.85, 0.745, 0.84);
    wfi_text_append(v->script,
                    "set border 3\nset xtics format ''\nunset xlabel\nunset ylabel\n"
                    "set ytics 0,%.6g format '%%g'\nset xrange [%.6g:%.6g]\n"
                    "set yrange [0:%.6g]\nset grid ytics\n"
                    "plot $delays using 1:2 %s, $delays using 1:2 every ::1::%zu %s\nunset grid\n",
                    step_of(v), -x, x, v->top, fill, v->delay.n, line);
    set_margins(v, 0.856, 0.95, 0.415, 0.735);
    wfi_text_append(v->script,
                    "set xtics %.6g,%.6g format '%%g'\nset xlabel '%s' offset 0,0.3\n"
                    "set ytics auto format ''\nunset ylabel\nset xrange [0:%.6g]\n"
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
    plot_label(v->script, "the whole window; the ring is around the peak", 0.60, 0.316, "left",
               "font 'Sans,11' textcolor rgb '" PLOT_FAINT "'");
    set_margins(v, 0.60, 0.905, 0.10, 0.30);
    wfi_text_append(v->script,
                    "set border 15\nset xrange [%.6g:%.6g]\nset yrange [%.6g:%.6g]\n"
                    "set xtics auto format '%%g'\nset ytics %.6g format '%%g'\n"
                    "set xlabel 'residual delay / %ss' offset 0,0.3\n"
                    "set ylabel 'residual rate / (%ss/s)' offset 0,0\n",
                    x, -x, y, -y, plot_round_step(-2 * y, 5), x_unit.letter, y_unit.letter);
    wfi_text_append(v->script,
                    "set colorbox user origin screen 0.917,0.10 size screen 0.010,0.20\n"
                    "set cbtics 0,%.6g format '%%g'\n",
                    step_of(v));
    plot_label(v->script, v->unit.heading, 0.965, 0.316, "right",
               "font 'Sans,11' textcolor rgb '" PLOT_FAINT "'");
    wfi_text_append(
        v->script,
        "set object 1 circle at %.6g,%.6g size screen 0.008 front noclip fillstyle empty "
        "border linecolor rgb '" PLOT_SECOND_COLOUR "' linewidth 1.6\n",
        v->row->peak.delay_s / x_unit.factor, v->row->peak.rate_s_per_s / y_unit.factor);
    wfi_text_append(v->script,
                    "plot $window matrix using (%.9g+%.9g*($1+0.5)):(%.9g+%.9g*($2+0.5)):3 with "
                    "image\nunset object\n",
                    x, -2 * x / (double)n_x, y, -2 * y / (double)n_y);
}

static void append_heading(const view *v)
{
    const char *faint = "font 'Sans,11' textcolor rgb '" PLOT_FAINT "'";
    const char *strong = "font 'Sans:Bold,14' textcolor rgb '" PLOT_INK "'";
    const wf_fits_idi_info *info = v->data->info;
    const wf_fringe_peak *peak = &v->row->peak;
    const bool two_axes = v->delay.n > 1 && v->rate.n > 1;
    char text[4 * MEASURE_BYTES];
    char delay[MEASURE_BYTES];
    char rate[MEASURE_BYTES];
    measure_format(delay, peak->delay_s, peak->delay_error_s, "s");
    measure_format(rate, peak->rate_s_per_s, peak->rate_error_s_per_s, "s/s");
    snprintf(
        text, sizeof text, "%s band %zu, %s, around %.2f MHz",
        report_row_found(v->row) ? "Fringe in" : "No fringe; highest noise:", v->row->i_band + 1,
        plot_product_name(info->first_product_code - (int)v->row->i_product), 1e-6 * v->middle_hz);
    plot_label(v->script, text, 0.60, 0.955, "left", strong);
    snprintf(text, sizeof text, "delay %s    rate %s", delay, rate);
    plot_label(v->script, text, 0.60, 0.920, "left", "font 'Sans,13' textcolor rgb '" PLOT_INK "'");
    measure_format_plain(delay, peak->amplitude, peak->amplitude / peak->snr);
    measure_format_probability(rate, peak->false_alarm);
    snprintf(text, sizeof text, "amplitude %s    SNR %.1f    false alarm %s", delay, peak->snr,
             rate);
    plot_label(v->script, text, 0.60, 0.890, "left", "font 'Sans,13' textcolor rgb '" PLOT_INK "'");
    plot_label(v->script,
               two_axes ? "close to the peak, with cuts through it" : "close to the peak", 0.60,
               0.856, "left", faint);
}

wf_status plot_surface(wfi_text *script, const wf_stretch_data *data, const report_row *row,
                       wf_error *err)
{
    view v = make_view(script, data, row);
    wf_fringe_surface *surface = NULL;
    wf_fringe_peak peak;
    WFI_TRY(append_close_data(&v, err));
    WFI_TRY(wf_fringe_transform(&surface, &peak, &v.input, err));
    append_heading(&v);
    if (v.delay.n > 1 && v.rate.n > 1) {
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
