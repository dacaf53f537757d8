/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Amplitude and phase of one baseline over frequency, all bands side by side. */
#include "report/baseline_figures.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { POINTS_MAX = 320, POINTS_A_BAND_MIN = 8, LINE_POINTS = 240 };
/* Channels are averaged until a point has this signal-to-noise ratio, where a fringe is found. */
static const double POINT_SNR = 3;

typedef struct curves {
    figure *figure;
    wfi_text *script; /* the figure's */
    const survey *survey;
    const wf_stretch_data *data;
    const report_row *rows; /* [n_bands][n_products] */
    size_t products[2];     /* that are drawn as curves */
    size_t n_products;
    size_t n_averaged; /* channels to a point of the curves */
    double largest;    /* amplitude of all points */
} curves;

static const char *const colours[] = {PLOT_FIRST_COLOUR, PLOT_SECOND_COLOUR};

static const report_row *row_of(const curves *p, size_t i_band, size_t i_product)
{
    return &p->rows[i_band * p->data->info->n_products + i_product];
}

/* Mean of neighbouring channels, the fringe's delay taken out among them. */
static double complex mean_of(const double complex *spectrum, size_t first, size_t n,
                              double delay_turns)
{
    double complex sum = 0;
    for (size_t c = 0; c < n; c++) {
        const double angle = WFI_RAD_PER_TURN * delay_turns * ((double)c - 0.5 * (double)(n - 1));
        sum += spectrum[first + c] * CMPLX(cos(angle), sin(angle));
    }
    return sum / (double)n;
}

static bool any_found(const curves *p)
{
    for (size_t i = 0; i < p->data->info->n_bands * p->data->info->n_products; i++) {
        if (report_row_found(&p->rows[i]))
            return true;
    }
    return false;
}

/* As few channels to a point as noise and the width of the page allow. */
static size_t channels_to_average(const curves *p)
{
    const wf_fits_idi_info *info = p->data->info;
    double best = 0;
    for (size_t b = 0; b < info->n_bands; b++) {
        for (size_t k = 0; k < p->n_products; k++) {
            const report_row *row = row_of(p, b, p->products[k]);
            best = report_row_found(row) ? fmax(best, row->peak.snr) : best;
        }
    }
    double n_points = (double)(POINTS_MAX / info->n_bands);
    if (best > 0)
        n_points = fmin(n_points, best / POINT_SNR * (best / POINT_SNR));
    n_points = fmax(n_points, POINTS_A_BAND_MIN);
    const size_t n = (size_t)ceil((double)info->n_channels / n_points);
    return n < info->n_channels ? n : info->n_channels;
}

/* The curve of one band and product as "x amplitude phase" lines. */
static wf_status append_curve(curves *p, size_t i_band, size_t i_product, wf_error *err)
{
    const wf_fits_idi_info *info = p->data->info;
    const report_row *row = row_of(p, i_band, i_product);
    if (!row->measured)
        return WF_OK;
    double complex *spectrum = NULL;
    WFI_TRY(wfi_allocate(&spectrum, info->n_channels, sizeof *spectrum, "a spectrum", err));
    const wf_fringe_input input = wf_stretch_input(p->data, i_band, i_product);
    const bool found = report_row_found(row);
    wf_fringe_spectrum(spectrum, &input, found ? row->peak.rate_s_per_s : 0);
    for (size_t c = 0; c < info->n_channels; c += p->n_averaged) {
        const size_t left = info->n_channels - c;
        const size_t n = p->n_averaged < left ? p->n_averaged : left;
        const double complex mean =
            mean_of(spectrum, c, n, found ? row->peak.delay_s * info->channel_width_hz : 0);
        p->largest = fmax(p->largest, cabs(mean));
        wfi_text_append(p->script, "%.5f %.6g %.2f\n",
                        plot_slot(info, i_band, (double)c + 0.5 * (double)(n - 1)), cabs(mean),
                        DEG_PER_RAD * carg(mean));
    }
    wfi_free(spectrum);
    return WF_OK;
}

/* The phase of the found fringe over one band, broken where it wraps. */
static void append_fit(const curves *p, size_t i_band, size_t i_product)
{
    const wf_fits_idi_info *info = p->data->info;
    const report_row *row = row_of(p, i_band, i_product);
    if (!report_row_found(row))
        return;
    double last = 0;
    for (size_t k = 0; k <= LINE_POINTS; k++) {
        const double x = (double)k / LINE_POINTS - 0.5; /* of the band, from its middle */
        const double turns =
            -x * (double)info->n_channels * info->channel_width_hz * row->peak.delay_s;
        const double phase =
            remainder(row->peak.phase_rad + WFI_RAD_PER_TURN * turns, WFI_RAD_PER_TURN);
        const double channel = (x + 0.5) * (double)info->n_channels - 0.5;
        if (k > 0 && fabs(phase - last) > 0.5 * WFI_RAD_PER_TURN)
            wfi_text_append(p->script, "\n");
        wfi_text_append(p->script, "%.5f %.2f\n", plot_slot(info, i_band, channel),
                        DEG_PER_RAD * phase);
        last = phase;
    }
    wfi_text_append(p->script, "\n");
}

static wf_status append_curves(curves *p, wf_error *err)
{
    for (size_t k = 0; k < p->n_products; k++) {
        /* a first line that is no number keeps the block from being empty */
        wfi_text_append(p->script, "$curve%zu << EOD\nNaN NaN NaN\n", k);
        for (size_t b = 0; b < p->data->info->n_bands; b++)
            WFI_TRY(append_curve(p, b, p->products[k], err));
        wfi_text_append(p->script, "EOD\n$fit%zu << EOD\nNaN NaN\n\n", k);
        for (size_t b = 0; b < p->data->info->n_bands; b++)
            append_fit(p, b, p->products[k]);
        wfi_text_append(p->script, "EOD\n");
    }
    return WF_OK;
}

static void append_plot(const curves *p, const char *column)
{
    wfi_text_append(p->script, "plot ");
    for (size_t k = 0; k < p->n_products; k++)
        wfi_text_append(p->script,
                        "%s$curve%zu using 1:%s with points pointtype 7 pointsize 0.28 linecolor "
                        "rgb '%s'",
                        k > 0 ? ", " : "", k, column, colours[k]);
}

/* Panels, in points; the part of a page's width that the frequency axis counts on. */
enum { LEFT = 82, RIGHT = 466, TOP = 60, MIDDLE = 184, BOTTOM = 326 };
static const double ROOM = 0.22;

static void append_keys(const curves *p)
{
    for (size_t k = 0; k < p->n_products; k++)
        figure_key(p->figure, survey_product(p->survey, p->products[k]),
                   RIGHT - 32.0 * (double)(p->n_products - 1 - k), 18, "right", colours[k]);
}

static void append_titles(const curves *p)
{
    char pair[SURVEY_PAIR_BYTES];
    char title[SURVEY_PAIR_BYTES + 32];
    char note[128];
    survey_pair(pair, p->survey, p->rows->i_station, p->rows->j_station);
    snprintf(title, sizeof title, "%s: spectrum", pair);
    const int n = snprintf(note, sizeof note, "mean over the stretch%s",
                           any_found(p) ? ", without the fringe's rate" : "");
    if (p->n_averaged > 1)
        snprintf(note + n, sizeof note - (size_t)n, "; %zu channels to a point", p->n_averaged);
    figure_title(p->figure, title, note);
}

static void draw_amplitudes(const curves *p)
{
    figure_panel(p->figure, LEFT, RIGHT, TOP, MIDDLE);
    wfi_text_append(p->script, "set ylabel 'amplitude'\n");
    plot_power_axis(p->script, p->largest, 4);
    plot_slot_axis(p->script, p->data->info, false, ROOM);
    append_plot(p, "2");
    wfi_text_append(p->script, "\nunset label\nunset object\n");
}

static void draw_phases(const curves *p)
{
    const bool slanted = plot_slot_is_slanted(p->data->info, ROOM);
    figure_panel(p->figure, LEFT, RIGHT, MIDDLE + 18, BOTTOM);
    wfi_text_append(p->script,
                    "set yrange [-180:180]\nset ytics -180,90,180 format '%%g'\n"
                    "set ylabel 'phase / °'\nset xlabel 'sky frequency / MHz' offset 0,%s\n",
                    slanted ? "-1.2" : "0.3");
    plot_slot_axis(p->script, p->data->info, true, ROOM);
    append_plot(p, "3");
    for (size_t k = 0; k < p->n_products; k++)
        wfi_text_append(p->script, ", $fit%zu using 1:2 with lines linewidth 1 linecolor rgb '%s'",
                        k, colours[k]);
    wfi_text_append(p->script, "\nunset arrow\n");
}

wf_status spectrum_figure(figure *f, const survey *s, const wf_stretch_data *data,
                          const report_row *rows, wf_error *err)
{
    curves p = {.figure = f, .script = &f->script, .survey = s, .data = data, .rows = rows};
    p.n_products = plot_choose_products(p.products, data->info);
    p.n_averaged = channels_to_average(&p);
    figure_begin(f, plot_slot_is_slanted(data->info, ROOM) ? 412 : 388);
    WFI_TRY(append_curves(&p, err));
    append_titles(&p);
    append_keys(&p);
    draw_amplitudes(&p);
    draw_phases(&p);
    return f->script.failed ? wfi_fail(err, WF_MEMORY, "out of memory for a picture") : WF_OK;
}
