/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page of one baseline: what the spectra are, where the fringe is, and its numbers. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "measure.h"
#include "plot.h"
#include "plot_pages.h"
#include "plot_surface.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { TABLE_ROWS_MAX = 8, POINTS_MAX = 1024, POINTS_A_BAND_MIN = 8, LINE_POINTS = 400 };
/* Channels are averaged until a point has this signal-to-noise ratio, where a fringe is found. */
static const double POINT_SNR = 3;

typedef struct page {
    wfi_text *script;
    const wf_stretch_data *data;
    const report_row *rows; /* [n_bands][n_products] */
    size_t products[2];     /* that are drawn as curves */
    size_t n_products;
    size_t n_averaged; /* channels to a point of the curves */
    double largest;    /* amplitude of all points */
} page;

static const char *const colours[] = {PLOT_FIRST_COLOUR, PLOT_SECOND_COLOUR};

static const report_row *row_of(const page *p, size_t i_band, size_t i_product)
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

static bool any_found(const page *p)
{
    for (size_t i = 0; i < p->data->info->n_bands * p->data->info->n_products; i++) {
        if (report_row_found(&p->rows[i]))
            return true;
    }
    return false;
}

/* As few channels to a point as noise and the width of the page allow. */
static size_t channels_to_average(const page *p)
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
static wf_status append_curve(page *p, size_t i_band, size_t i_product, wf_error *err)
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
static void append_fit(const page *p, size_t i_band, size_t i_product)
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

static wf_status append_curves(page *p, wf_error *err)
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

static void append_plot(const page *p, const char *column)
{
    wfi_text_append(p->script, "plot ");
    for (size_t k = 0; k < p->n_products; k++)
        wfi_text_append(p->script,
                        "%s$curve%zu using 1:%s with points pointtype 7 pointsize 0.45 linecolor "
                        "rgb '%s'",
                        k > 0 ? ", " : "", k, column, colours[k]);
}

static void draw_amplitudes(const page *p)
{
    wfi_text_append(p->script, "set lmargin at screen 0.07\nset rmargin at screen 0.49\n"
                               "set tmargin at screen 0.855\nset bmargin at screen 0.64\n"
                               "set ylabel 'amplitude' offset 0.5,0\n");
    plot_power_axis(p->script, p->largest, 5);
    plot_slot_axis(p->script, p->data->info, false, 0.42);
    for (size_t k = 0; k < p->n_products; k++) {
        char style[128];
        snprintf(style, sizeof style, "font 'Sans:Bold,13' textcolor rgb '%s'", colours[k]);
        plot_label(p->script,
                   plot_product_name(p->data->info->first_product_code - (int)p->products[k]),
                   0.49 - 0.022 * (double)(p->n_products - 1 - k), 0.872, "right", style);
    }
    char note[2 * MEASURE_BYTES];
    const int n = snprintf(note, sizeof note, "mean over the stretch%s",
                           any_found(p) ? ", without the fringe's rate" : "");
    if (p->n_averaged > 1)
        snprintf(note + n, sizeof note - (size_t)n, "; %zu channels to a point", p->n_averaged);
    plot_label(p->script, note, 0.07, 0.872, "left",
               "font 'Sans,11' textcolor rgb '" PLOT_FAINT "'");
    append_plot(p, "2");
    wfi_text_append(p->script, "\nunset label\nunset object\n");
}

static void draw_phases(const page *p)
{
    wfi_text_append(p->script, "set tmargin at screen 0.62\nset bmargin at screen 0.405\n"
                               "set yrange [-180:180]\nset ytics -180,90,180 format '%%g'\n"
                               "set ylabel 'phase / deg' offset 0.5,0\n"
                               "set xlabel 'sky frequency / MHz'\n");
    plot_slot_axis(p->script, p->data->info, true, 0.42);
    append_plot(p, "3");
    for (size_t k = 0; k < p->n_products; k++)
        wfi_text_append(p->script, ", $fit%zu using 1:2 with lines linewidth 1 linecolor rgb '%s'",
                        k, colours[k]);
    wfi_text_append(p->script, "\nunset arrow\n");
}

static void append_cell(const page *p, const char *text, double x, double y, const char *align)
{
    plot_label(p->script, text, x, y, align, "font 'Sans,10.5' textcolor rgb '" PLOT_INK "'");
}

/* Columns of the table, and where they stand; all but the first two are right-aligned. */
enum { BAND, PRODUCT, DELAY, RATE, AMPLITUDE, PHASE, SNR, ALARM, N_CELLS };
static const double cell_x[N_CELLS] = {0.045, 0.118, 0.233, 0.325, 0.38, 0.447, 0.488, 0.537};

/* Units of delay and rate of all rows: those of the strongest. */
typedef struct units {
    measure_prefix delay;
    measure_prefix rate;
} units;

static void append_numbers(const page *p, const report_row *row, const units *u, double y)
{
    char text[MEASURE_BYTES];
    const wf_fringe_peak *peak = &row->peak;
    measure_format_plain(text, peak->delay_s / u->delay.factor,
                         peak->delay_error_s / u->delay.factor);
    append_cell(p, text, cell_x[DELAY], y, "right");
    measure_format_plain(text, peak->rate_s_per_s / u->rate.factor,
                         peak->rate_error_s_per_s / u->rate.factor);
    append_cell(p, text, cell_x[RATE], y, "right");
    snprintf(text, sizeof text, "%#.3g", peak->amplitude);
    append_cell(p, text, cell_x[AMPLITUDE], y, "right");
    measure_format_fixed(text, DEG_PER_RAD * peak->phase_rad, DEG_PER_RAD / peak->snr, 1);
    append_cell(p, text, cell_x[PHASE], y, "right");
    snprintf(text, sizeof text, "%.1f", peak->snr);
    append_cell(p, text, cell_x[SNR], y, "right");
    measure_format_probability(text, peak->false_alarm);
    append_cell(p, text, cell_x[ALARM], y, "right");
}

static void append_row(const page *p, const report_row *row, const units *u, double y)
{
    const wf_fits_idi_info *info = p->data->info;
    char text[MEASURE_BYTES];
    snprintf(text, sizeof text, "%zu   %.2f", row->i_band + 1,
             1e-6 * (info->band_first_hz[row->i_band] +
                     0.5 * (double)(info->n_channels - 1) * info->channel_width_hz));
    append_cell(p, text, cell_x[BAND], y, "left");
    append_cell(p, plot_product_name(info->first_product_code - (int)row->i_product),
                cell_x[PRODUCT], y, "left");
    if (row->measured)
        append_numbers(p, row, u, y);
    else
        append_cell(p, "too little is valid", cell_x[DELAY], y, "right");
}

static size_t n_stronger(const page *p, size_t i)
{
    size_t n = 0;
    for (size_t k = 0; k < p->data->info->n_bands * p->data->info->n_products; k++)
        n += p->rows[k].peak.snr > p->rows[i].peak.snr ||
             (k < i && p->rows[k].peak.snr >= p->rows[i].peak.snr);
    return n;
}

static const report_row *strongest(const page *p)
{
    const size_t n = p->data->info->n_bands * p->data->info->n_products;
    size_t best = 0;
    for (size_t i = 1; i < n; i++) {
        if (p->rows[i].peak.snr > p->rows[best].peak.snr)
            best = i;
    }
    return &p->rows[best];
}

static void append_table_heads(const page *p, const units *u, double y)
{
    char heads[N_CELLS][32] = {"band / MHz", "product",   "",    "",
                               "amplitude",  "phase / °", "SNR", "false al."};
    snprintf(heads[DELAY], sizeof heads[DELAY], "delay / %ss", u->delay.letter);
    snprintf(heads[RATE], sizeof heads[RATE], "rate / (%ss/s)", u->rate.letter);
    for (size_t k = 0; k < N_CELLS; k++)
        plot_label(p->script, heads[k], cell_x[k], y, k <= PRODUCT ? "left" : "right",
                   "font 'Sans,10.5' textcolor rgb '" PLOT_FAINT "'");
}

/* A light bar behind the row that the right half of the page shows. */
static void append_bar(const page *p, double y)
{
    wfi_text_append(p->script,
                    "set object 1 rectangle from screen 0.038,%.4f to screen 0.544,%.4f behind "
                    "fillcolor rgb '#e6eef5' fillstyle solid noborder\n",
                    y - 0.0125, y + 0.0125);
}

static void append_table(const page *p)
{
    const size_t n = p->data->info->n_bands * p->data->info->n_products;
    const wf_fringe_peak *best = &strongest(p)->peak;
    const units u = {measure_prefix_beside(best->delay_s, best->delay_error_s),
                     measure_prefix_beside(best->rate_s_per_s, best->rate_error_s_per_s)};
    double y = 0.288;
    append_table_heads(p, &u, y);
    for (size_t i = 0; i < n; i++) {
        if (n_stronger(p, i) >= TABLE_ROWS_MAX)
            continue;
        y -= 0.0255;
        if (n_stronger(p, i) == 0)
            append_bar(p, y);
        append_row(p, &p->rows[i], &u, y);
    }
    if (n <= TABLE_ROWS_MAX)
        return;
    char text[MEASURE_BYTES];
    snprintf(text, sizeof text, "the %d strongest of %zu; all are in summary.txt", TABLE_ROWS_MAX,
             n);
    plot_label(p->script, text, cell_x[BAND], y - 0.028, "left",
               "font 'Sans,10.5' textcolor rgb '" PLOT_FAINT "'");
}

static void append_titles(const page *p)
{
    const wf_fits_idi_info *info = p->data->info;
    char title[2 * WF_NAME_BYTES + 8];
    char span[PLOT_SPAN_BYTES];
    char second[WF_NAME_BYTES + PLOT_SPAN_BYTES + 8];
    snprintf(title, sizeof title, "%s – %s", info->station_names[p->rows->i_station],
             info->station_names[p->rows->j_station]);
    plot_format_span(span, p->data->stretch);
    snprintf(second, sizeof second, "%s,  %s", info->source_names[p->data->stretch->i_source],
             span);
    plot_title(p->script, title, second);
    plot_label(p->script, info->campaign, 0.96, 0.03, "right",
               "font 'Sans,10.5' textcolor rgb '" PLOT_FAINT "'");
}

/* An empty plot carries the label of a page without a fringe. */
static void append_refusal(const page *p, const char *reason)
{
    plot_label(p->script, reason, 0.60, 0.955, "left",
               "font 'Sans:Bold,14' textcolor rgb '" PLOT_INK "'");
    wfi_text_append(p->script, "unset border\nunset tics\nunset xlabel\nunset ylabel\n"
                               "plot [0:1] [0:1] NaN\n");
}

wf_status plot_fringe_page(wfi_text *script, const char *picture, const wf_stretch_data *data,
                           const report_row *rows, wf_error *err)
{
    page p = {.script = script, .data = data, .rows = rows};
    p.n_products = plot_choose_products(p.products, data->info);
    p.n_averaged = channels_to_average(&p);
    plot_begin(script, picture);
    WFI_TRY(append_curves(&p, err));
    append_titles(&p);
    append_table(&p);
    draw_amplitudes(&p);
    draw_phases(&p);
    const report_row *best = strongest(&p);
    if (best->measured && best->peak.amplitude > 0)
        WFI_TRY(plot_surface(script, data, best, err));
    else
        append_refusal(&p,
                       best->measured ? "Nothing but zeros" : "Too little is valid for a fringe");
    wfi_text_append(script, "unset multiplot\n");
    return script->failed ? wfi_fail(err, WF_MEMORY, "out of memory for a picture") : WF_OK;
}
