/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Autocorrelation spectra: each station's band-passes. */
#include <complex.h>
#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "report/page.h"

/* Panel, in points; the part of a page's width that the frequency axis counts on; points to a
 * curve, of which each is the mean of some channels. */
enum { LEFT = 82, RIGHT = 466, TOP = 56, BOTTOM = 190, POINTS_MAX = 800 };
static const double ROOM = 0.22;

typedef struct bandpass {
    figure figure;
    const survey *survey;
    const wf_stretch_data *data;
    size_t i_station;
    size_t products[2];
    size_t n_products;
    size_t n_averaged;
    double largest;
} bandpass;

/* "x mean lowest highest" of groups of channels of one band. */
static wf_status append_band(bandpass *b, size_t i_band, size_t i_product, wf_error *err)
{
    const wf_fits_idi_info *info = b->survey->info;
    const wf_fringe_input input = wf_stretch_input(b->data, i_band, i_product);
    double complex *spectrum = NULL;
    WFI_TRY(wfi_allocate(&spectrum, info->n_channels, sizeof *spectrum, "a spectrum", err));
    wf_fringe_spectrum(spectrum, &input, 0);
    for (size_t c = 0; c < info->n_channels; c += b->n_averaged) {
        const size_t left = info->n_channels - c;
        const size_t n = b->n_averaged < left ? b->n_averaged : left;
        double sum = 0;
        double low = INFINITY;
        double high = 0;
        for (size_t k = 0; k < n; k++) {
            const double power = cabs(spectrum[c + k]);
            sum += power;
            low = fmin(low, power);
            high = fmax(high, power);
        }
        b->largest = fmax(b->largest, high);
        wfi_text_append(&b->figure.script, "%.5f %.5g %.5g %.5g\n",
                        plot_slot(info, i_band, (double)c + 0.5 * (double)(n - 1)), sum / (double)n,
                        low, high);
    }
    wfi_text_append(&b->figure.script, "\n");
    wfi_free(spectrum);
    return WF_OK;
}

static wf_status append_curves(bandpass *b, wf_error *err)
{
    for (size_t k = 0; k < b->n_products; k++) {
        wfi_text_append(&b->figure.script, "$power%zu << EOD\nNaN NaN NaN NaN\n\n", k);
        for (size_t i = 0; i < b->survey->info->n_bands; i++)
            WFI_TRY(append_band(b, i, b->products[k], err));
        wfi_text_append(&b->figure.script, "EOD\n");
    }
    return WF_OK;
}

static void append_titles(bandpass *b)
{
    char note[96] = "mean over the stretch";
    if (b->n_averaged > 1)
        snprintf(note, sizeof note, "mean of %zu channels, and from their lowest to their highest",
                 b->n_averaged);
    figure_title(&b->figure, b->survey->info->station_names[b->i_station], note);
    for (size_t k = 0; k < b->n_products; k++)
        figure_key(&b->figure, survey_product(b->survey, b->products[k]),
                   RIGHT - 32.0 * (double)(b->n_products - 1 - k), 18, "right", figure_colours[k]);
}

static void draw_panel(bandpass *b)
{
    wfi_text *script = &b->figure.script;
    const wf_fits_idi_info *info = b->survey->info;
    figure_panel(&b->figure, LEFT, RIGHT, TOP, BOTTOM);
    plot_power_axis(script, b->largest, 4);
    wfi_text_append(script, "set ylabel 'power (mean 1)'\nset xlabel 'sky frequency / MHz' %s\n",
                    plot_slot_is_slanted(info, ROOM) ? "offset 0,-1.2" : "");
    plot_slot_axis(script, info, true, ROOM);
    wfi_text_append(script, "plot ");
    for (size_t k = 0; k < b->n_products && b->n_averaged > 1; k++)
        wfi_text_append(script,
                        "$power%zu using 1:3:4 with filledcurves fillstyle transparent solid 0.3 "
                        "noborder fillcolor rgb '%s', ",
                        k, figure_colours[k]);
    for (size_t k = 0; k < b->n_products; k++)
        wfi_text_append(script, "%s$power%zu using 1:2 with lines linewidth 1.4 linecolor rgb '%s'",
                        k > 0 ? ", " : "", k, figure_colours[k]);
    wfi_text_append(script, "\n");
}

static wf_status draw(page *p, bandpass *b, size_t i_stretch, wf_error *err)
{
    const wf_fits_idi_info *info = b->survey->info;
    char name[PAGE_NAME_BYTES];
    char title[WF_NAME_BYTES + 64];
    char caption[WF_NAME_BYTES + PLOT_SPAN_BYTES + 8];
    char span[PLOT_SPAN_BYTES];
    b->n_products = plot_choose_products(b->products, info);
    b->n_averaged = 1 + (info->n_bands * info->n_channels - 1) / POINTS_MAX;
    figure_begin(&b->figure, plot_slot_is_slanted(info, ROOM) ? 278 : 252);
    WFI_TRY(append_curves(b, err));
    append_titles(b);
    draw_panel(b);
    page_name(name, p->survey, i_stretch, b->i_station, PAGE_NO_STATION, "autocorrelation");
    snprintf(title, sizeof title, "Autocorrelation spectrum of %s, stretch %zu",
             info->station_names[b->i_station], i_stretch + 1);
    plot_format_span(span, b->data->stretch);
    snprintf(caption, sizeof caption, "%s, %s", info->source_names[b->data->stretch->i_source],
             span);
    return page_figure(p, &b->figure, &(figure_words){name, title, caption}, err);
}

static wf_status append_station(page *p, size_t i_station, size_t i_stretch, bool *any,
                                wf_error *err)
{
    wf_stretch_data *data = NULL;
    WFI_TRY(wf_stretch_read(&data, p->survey->stretches, i_stretch, i_station, i_station, err));
    bandpass b = {.survey = p->survey, .data = data, .i_station = i_station};
    wf_status status = WF_OK;
    if (data->n_rows > 0) {
        if (!*any) {
            html_element(&p->body, "p", "note",
                         "Mean power of each station over sky frequency. A good band is flat "
                         "between its edges; narrow lines are interference or tones.");
            page_figures_begin(p);
        }
        *any = true;
        status = draw(p, &b, i_stretch, err);
        figure_release(&b.figure);
    }
    wf_stretch_data_destroy(data);
    return status;
}

/* The longest stretch in which a station has data; how many there are otherwise. */
static size_t longest_stretch(const survey *s, size_t i_station)
{
    const size_t n = wf_stretches_n(s->stretches);
    size_t best = n;
    size_t most = 0;
    for (size_t i = 0; i < n; i++) {
        const wf_stretch *stretch = wf_stretches_get(s->stretches, i);
        const float *weight = s->weight + i_station * s->n_times + stretch->i_first;
        size_t n_valid = 0;
        for (size_t t = 0; t < stretch->n_times; t++)
            n_valid += weight[t] > 0;
        if (n_valid > most) {
            most = n_valid;
            best = i;
        }
    }
    return best;
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    const size_t n = wf_stretches_n(s->stretches);
    bool any = false;
    for (size_t i = 0; i < s->info->n_stations; i++) {
        const size_t longest = longest_stretch(s, i);
        for (size_t k = p->all ? 0 : longest; k < n && (p->all || k == longest); k++)
            WFI_TRY(append_station(p, i, k, &any, err));
    }
    if (any)
        page_figures_end(p);
    return WF_OK;
}

const section section_autocorrelations = {"autocorrelations", "Autocorrelations", append};
