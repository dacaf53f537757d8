/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A row of panels for each stream: sampler states, band-pass, kurtosis, and what was found. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "inspect_result.h"
#include "measure.h"
#include "plot.h"

enum { HEAD_POINTS = 110, ROW_POINTS = 210, FOOT_POINTS = 30, LINE_POINTS = 21, NAME_BYTES = 96 };

typedef struct page {
    wfi_text *script;
    const inspect_result *result;
    size_t n_rows;
    double height; /* points */
} page;

static double from_top(const page *p, double points)
{
    return 1.0 - points / p->height;
}

static void set_panel(const page *p, size_t i_row, double left, double right)
{
    const double top = HEAD_POINTS + ROW_POINTS * (double)i_row + 26;
    wfi_text_append(p->script,
                    "unset label\nunset object\nunset arrow\nset lmargin at screen %.4f\n"
                    "set rmargin at screen %.4f\nset tmargin at screen %.4f\n"
                    "set bmargin at screen %.4f\n",
                    left, right, from_top(p, top), from_top(p, top + ROW_POINTS - 76));
}

static void append_bars(const page *p, const wf_stream_statistics *s, size_t i)
{
    double best[WF_SAMPLER_STATES_MAX];
    const wf_sampler_statistics *c = &s->component[0];
    const wf_sampler_statistics *d = &s->component[1];
    const bool known = wf_sampler_optimum(inspect_bits(&s->format), best);
    wfi_text_append(p->script, "$states%zu << EOD\n", i);
    for (size_t k = 0; k < c->n_states; k++)
        wfi_text_append(p->script, "%zu %.6g %.6g %.6g\n", k, c->state_fraction[k],
                        s->format.is_complex ? d->state_fraction[k] : NAN, known ? best[k] : NAN);
    wfi_text_append(p->script, "EOD\n");
}

static void draw_states(const page *p, const wf_stream_statistics *s, size_t i)
{
    const size_t n = s->component[0].n_states;
    set_panel(p, i, 0.045, 0.175);
    if (n == 0) {
        plot_label(p->script, "more than 8 bits: no states", 0.045,
                   from_top(p, HEAD_POINTS + ROW_POINTS * (double)i + 90), "left",
                   "font 'Sans,10.5' textcolor rgb '" PLOT_FAINT "'");
        wfi_text_append(p->script, "unset border\nunset tics\nunset xlabel\nunset ylabel\n"
                                   "plot [0:1] [0:1] NaN\nset border 3\nset tics\n");
        return;
    }
    wfi_text_append(p->script,
                    "set xrange [-0.6:%.1f]\nset yrange [0:*]\nset ytics autofreq format '%%g'\n"
                    "set xtics norotate %s format '%%g'\nset ylabel 'fraction' offset 0.5,0\n"
                    "set xlabel 'state' offset 0,0.6\n",
                    (double)n - 0.4,
                    n <= 4    ? "1"
                    : n == 16 ? "4"
                              : "64");
    wfi_text_append(p->script,
                    "set style fill solid noborder\n"
                    "plot $states%zu using 1:2 with boxes linecolor rgb '%s'%s, $states%zu using "
                    "1:4 with points pointtype 1 pointsize %.1f linewidth 1.6 linecolor rgb '%s'\n",
                    i, PLOT_FIRST_COLOUR, n <= 16 ? "" : " linewidth 0.2", i, n <= 16 ? 1.2 : 0.2,
                    PLOT_SECOND_COLOUR);
}

static void append_curves(const page *p, const wf_stream_statistics *s, size_t i)
{
    const inspect_unit unit = inspect_frequency_unit(p->result);
    wfi_text_append(p->script, "$curve%zu << EOD\n", i);
    for (size_t k = 0; k < s->n_channels; k++)
        wfi_text_append(p->script, "%.9g %.6g %.6g\n",
                        (s->first_hz + (double)k * s->channel_hz) / unit.hz, s->spectrum[k],
                        s->kurtosis[k]);
    wfi_text_append(p->script, "EOD\n$tones%zu << EOD\nNaN NaN\n", i);
    for (size_t k = 0; k < s->comb.n_tones; k++)
        wfi_text_append(p->script, "%.9g 0\n", s->comb.tones[k].frequency_hz / unit.hz);
    wfi_text_append(p->script, "EOD\n$spurs%zu << EOD\nNaN NaN\n", i);
    for (size_t k = 0; k < s->n_tones; k++) {
        if (!inspect_is_of_comb(s, &s->tones[k]))
            wfi_text_append(p->script, "%.9g 0\n", s->tones[k].frequency_hz / unit.hz);
    }
    wfi_text_append(p->script, "EOD\n");
}

static void set_frequency_axis(const page *p, const wf_stream_statistics *s)
{
    const inspect_unit unit = inspect_frequency_unit(p->result);
    const double low = (s->first_hz - 0.5 * s->channel_hz) / unit.hz;
    const double width = (double)s->n_channels * s->channel_hz / unit.hz;
    wfi_text_append(p->script,
                    "set xrange [%.9g:%.9g]\nset xtics norotate %.6g format '%%g'\n"
                    "set xlabel 'baseband frequency / %s' offset 0,0.6\n",
                    low, low + width, plot_round_step(width, 6), unit.name);
}

static void draw_spectrum(const page *p, const wf_stream_statistics *s, size_t i)
{
    double largest = 0;
    for (size_t k = 0; k < s->n_channels; k++)
        largest = fmax(largest, s->spectrum[k]);
    set_panel(p, i, 0.225, 0.515);
    set_frequency_axis(p, s);
    plot_power_axis(p->script, largest, 4);
    const double top = largest > 0 ? 1.07 * largest : 0.97;
    wfi_text_append(p->script,
                    "set ylabel 'power (white 1)' offset 0,0\n"
                    "plot $curve%zu using 1:2 with lines linewidth 1.2 linecolor rgb '%s', "
                    "$tones%zu using 1:(%.6g) with points pointtype 11 pointsize 0.7 linecolor rgb "
                    "'%s', $spurs%zu using 1:(%.6g) with points pointtype 2 pointsize 0.8 "
                    "linewidth 1.5 linecolor rgb '%s'\n",
                    i, PLOT_FIRST_COLOUR, i, top, PLOT_FAINT, i, top, PLOT_SECOND_COLOUR);
}

static void draw_kurtosis(const page *p, const wf_stream_statistics *s, size_t i)
{
    const double high = isfinite(s->kurtosis_high) ? s->kurtosis_high : 2.0;
    double top = 1.0 + 1.6 * (high - 1.0);
    double bottom = 1.0 - 1.6 * (1.0 - s->kurtosis_low);
    for (size_t k = 0; k < s->n_channels; k++) {
        top = fmax(top, s->kurtosis[k] + 0.1 * (high - 1.0));
        bottom = fmin(bottom, s->kurtosis[k] - 0.1 * (high - 1.0));
    }
    set_panel(p, i, 0.565, 0.755);
    set_frequency_axis(p, s);
    wfi_text_append(p->script,
                    "set yrange [%.6g:%.6g]\nset ytics %.6g format '%%g'\n"
                    "set ylabel 'kurtosis' offset 0,0\n"
                    "set object 1 rectangle from graph 0,first %.6g to graph 1,first %.6g behind "
                    "fillcolor rgb '#e6eef5' fillstyle solid noborder\n"
                    "plot $curve%zu using 1:3 with points pointtype 7 pointsize 0.25 linecolor "
                    "rgb '%s'\n",
                    bottom, top, plot_round_step(top - bottom, 4), s->kurtosis_low, high, i,
                    PLOT_FIRST_COLOUR);
}

typedef struct writer {
    const page *page;
    double y; /* points from the top */
} writer;

static void write_line(writer *w, const char *text, const char *style)
{
    plot_label(w->page->script, text, 0.785, from_top(w->page, w->y), "left", style);
    w->y += LINE_POINTS;
}

static const char PLAIN[] = "font 'Sans,10.5' textcolor rgb '" PLOT_INK "'";

static void write_numbers(writer *w, const wf_stream_statistics *s)
{
    const wf_sampler_statistics *c = &s->component[0];
    char text[160];
    snprintf(text, sizeof text, "valid %.3f %%,  rms %.5g",
             s->n_asked > 0 ? 100 * s->n_valid / s->n_asked : 0.0, sqrt(s->power));
    write_line(w, text, PLAIN);
    if (c->n_states == 4)
        snprintf(text, sizeof text, "v0/σ %.3f (best 0.982),  offset %.3f σ", 1 / c->sigma_steps,
                 c->offset_sigma);
    else
        snprintf(text, sizeof text, "offset %.3f σ,  ends %.2g %%", c->offset_sigma,
                 100 * c->extreme_fraction);
    write_line(w, text, PLAIN);
    snprintf(text, sizeof text, "efficiency %.4f (best %.4f)", c->efficiency, c->best_efficiency);
    write_line(w, text, PLAIN);
}

static void write_lines_found(writer *w, const wf_stream_statistics *s)
{
    const inspect_unit unit = inspect_frequency_unit(w->page->result);
    char text[192];
    char delay[MEASURE_BYTES];
    if (s->comb.spacing_hz > 0) {
        measure_format(delay, s->comb.delay_s, s->comb.delay_error_s, "s");
        snprintf(text, sizeof text, "comb %g %s, delay %s", s->comb.spacing_hz / unit.hz, unit.name,
                 delay);
        write_line(w, text, PLAIN);
    }
    for (size_t k = 0, n = 0; k < s->n_tones && n < 1; k++) {
        if (inspect_is_of_comb(s, &s->tones[k]))
            continue;
        n++;
        snprintf(text, sizeof text, "tone %.6g %s, %.2g %% of the power",
                 s->tones[k].frequency_hz / unit.hz, unit.name, 100 * s->tones[k].power_fraction);
        write_line(w, text, PLAIN);
    }
    if (inspect_n_odd_channels(s) > 0) {
        snprintf(text, sizeof text, "%zu of %zu channels are no Gaussian noise",
                 inspect_n_odd_channels(s), s->n_channels);
        write_line(w, text, PLAIN);
    }
    if (s->n_repetitions > 0) {
        snprintf(text, sizeof text, "samples come again after %" PRId64 " (%.3g)",
                 s->repetitions[0].lag_samples, s->repetitions[0].coefficient);
        write_line(w, text, PLAIN);
    }
}

static void write_words(const page *p, const wf_stream_statistics *s, size_t i)
{
    writer w = {.page = p, .y = HEAD_POINTS + ROW_POINTS * (double)i + 36};
    const bool healthy = inspect_verdict(s) == WF_SAMPLER_HEALTHY;
    wfi_text_append(p->script, "unset object\n"); /* labels of the head are still to be drawn */
    write_line(&w, wf_sampler_verdict_text(inspect_verdict(s)),
               healthy ? "font 'Sans:Bold,13' textcolor rgb '" PLOT_FIRST_COLOUR "'"
                       : "font 'Sans:Bold,13' textcolor rgb '" PLOT_SECOND_COLOUR "'");
    if (s->component[0].n_samples > 0)
        write_numbers(&w, s);
    write_lines_found(&w, s);
    char name[NAME_BYTES];
    snprintf(name, sizeof name, "thread %" PRIu32 ", channel %" PRIu32, s->thread, s->channel);
    plot_label(p->script, name, 0.012, from_top(p, HEAD_POINTS + ROW_POINTS * (double)i + 10),
               "left", "font 'Sans:Bold,12' textcolor rgb '" PLOT_INK "'");
    /* an empty plot carries the labels */
    wfi_text_append(p->script, "unset border\nunset tics\nunset xlabel\nunset ylabel\n"
                               "plot [0:1] [0:1] NaN\n"
                               "set border 3 linewidth 1 linecolor rgb '#8a95a1'\n"
                               "set tics out nomirror scale 0.5 textcolor rgb '" PLOT_INK "'\n"
                               "unset label\n");
}

static void write_titles(const page *p)
{
    const inspect_result *r = p->result;
    const wf_recording_info *info = r->info;
    const char *slash = strrchr(r->files[0], '/');
    char start[WF_INSTANT_TEXT_BYTES] = "start not stated";
    char second[256];
    if (r->start_known)
        wf_instant_format(start, inspect_time(r, info->first), 3);
    snprintf(second, sizeof second, "%s,  %s%s,  %.6g s,  %.6g million samples a second",
             info->format_name, start, r->start_known ? " UTC" : "",
             (double)(info->end - info->first) / (double)info->sample_rate_hz,
             1e-6 * (double)info->sample_rate_hz);
    plot_label(p->script, slash == NULL ? r->files[0] : slash + 1, 0.012, from_top(p, 32), "left",
               "font 'Sans:Bold,22' textcolor rgb '" PLOT_INK "'");
    plot_label(p->script, second, 0.012, from_top(p, 68), "left",
               "font 'Sans,12.5' textcolor rgb '" PLOT_FAINT "'");
    if (p->n_rows == r->seen->n_streams)
        return;
    snprintf(second, sizeof second, "the first %zu of %zu streams", p->n_rows, r->seen->n_streams);
    plot_label(p->script, second, 0.985, from_top(p, 68), "right",
               "font 'Sans,12.5' textcolor rgb '" PLOT_FAINT "'");
}

wf_status inspect_plot(wfi_text *script, const char *picture, const inspect_result *r,
                       wf_error *err)
{
    const size_t n = r->seen->n_streams;
    page p = {.script = script, .result = r};
    p.n_rows = n < INSPECT_STREAMS_DRAWN ? n : INSPECT_STREAMS_DRAWN;
    p.height = HEAD_POINTS + ROW_POINTS * (double)p.n_rows + FOOT_POINTS;
    for (size_t i = 0; i < p.n_rows; i++) {
        append_bars(&p, &r->seen->streams[i], i);
        append_curves(&p, &r->seen->streams[i], i);
    }
    plot_begin(script, picture, (int)p.height);
    write_titles(&p);
    for (size_t i = 0; i < p.n_rows; i++) {
        write_words(&p, &r->seen->streams[i], i);
        draw_states(&p, &r->seen->streams[i], i);
        draw_spectrum(&p, &r->seen->streams[i], i);
        draw_kurtosis(&p, &r->seen->streams[i], i);
    }
    wfi_text_append(script, "unset multiplot\n");
    return script->failed ? wfi_fail(err, WF_MEMORY, "out of memory for a picture") : WF_OK;
}
