/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A page of autocorrelation spectra, a panel a station. */
#include <complex.h>
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "plot.h"
#include "plot_pages.h"

static const double LEFT = 0.065, RIGHT = 0.97, BOTTOM = 0.10, BOTTOM_SLANTED = 0.135, TOP = 0.86,
                    GAP_X = 0.07, GAP_Y = 0.055;

typedef struct layout {
    size_t n_columns;
    double width; /* of a panel, parts of the page */
    double height;
    size_t products[2]; /* that are drawn */
    size_t n_products;
} layout;

static const double complex *spectrum_of(const plot_spectra *s, size_t i_station, size_t i_band,
                                         size_t i_product)
{
    const size_t place = (i_station * s->info->n_bands + i_band) * s->info->n_products + i_product;
    return s->spectra + place * s->info->n_channels;
}

/* Curves of one station: "x power" lines, bands apart. */
static void append_curves(wfi_text *script, const plot_spectra *s, size_t i_station,
                          const layout *l)
{
    const wf_fits_idi_info *info = s->info;
    for (size_t k = 0; k < l->n_products; k++) {
        wfi_text_append(script, "$s%zu_%zu << EOD\nNaN NaN\n", i_station, k);
        for (size_t b = 0; b < info->n_bands; b++) {
            const double complex *spectrum = spectrum_of(s, i_station, b, l->products[k]);
            for (size_t c = 0; c < info->n_channels; c++)
                wfi_text_append(script, "%.5f %.6g\n", plot_slot(info, b, (double)c),
                                cabs(spectrum[c]));
            wfi_text_append(script, "\n");
        }
        wfi_text_append(script, "EOD\n");
    }
}

/* Largest value of the curves of one station. */
static double largest_of(const plot_spectra *s, size_t i_station, const size_t *products,
                         size_t n_products)
{
    const wf_fits_idi_info *info = s->info;
    double largest = 0;
    for (size_t b = 0; b < info->n_bands; b++) {
        for (size_t k = 0; k < n_products; k++) {
            for (size_t c = 0; c < info->n_channels; c++)
                largest = fmax(largest, cabs(spectrum_of(s, i_station, b, products[k])[c]));
        }
    }
    return largest;
}

/* Panels of a column share the labels of the lowest one. */
static void draw_panel(wfi_text *script, const plot_spectra *s, size_t i, const layout *l)
{
    static const char *const colours[] = {PLOT_FIRST_COLOUR, PLOT_SECOND_COLOUR};
    const double left = LEFT + (double)(i % l->n_columns) * (l->width + GAP_X);
    const double top = TOP - (double)(i / l->n_columns) * (l->height + GAP_Y);
    const bool lowest = i + l->n_columns >= s->n_stations;
    wfi_text_append(script,
                    "set lmargin at screen %.4f\nset rmargin at screen %.4f\n"
                    "set tmargin at screen %.4f\nset bmargin at screen %.4f\n"
                    "%s\nset ylabel 'power (mean 1)' offset 0.5,0\n",
                    left, left + l->width, top, top - l->height,
                    lowest ? "set xlabel 'sky frequency / MHz'" : "unset xlabel");
    plot_power_axis(script, largest_of(s, i, l->products, l->n_products), 4);
    plot_slot_axis(script, s->info, lowest, l->width);
    plot_label(script, s->names[i], left, top + 0.016, "left",
               "font 'Sans:Bold,14' textcolor rgb '" PLOT_INK "'");
    wfi_text_append(script, "plot ");
    for (size_t k = 0; k < l->n_products; k++)
        wfi_text_append(script, "%s$s%zu_%zu using 1:2 with lines linewidth 1.4 linecolor rgb '%s'",
                        k > 0 ? ", " : "", i, k, colours[k]);
    wfi_text_append(script, "\nunset label\nunset arrow\n");
}

static layout choose_layout(const plot_spectra *s)
{
    layout l = {.n_columns = s->n_stations > 3 ? 2 : 1};
    l.n_products = plot_choose_products(l.products, s->info);
    const double n_rows = (double)((s->n_stations + l.n_columns - 1) / l.n_columns);
    const double n_gaps = (double)(l.n_columns - 1);
    l.width = (RIGHT - LEFT - GAP_X * n_gaps) / (double)l.n_columns;
    const double bottom = plot_slot_is_slanted(s->info, l.width) ? BOTTOM_SLANTED : BOTTOM;
    l.height = (TOP - bottom - GAP_Y * (n_rows - 1)) / n_rows;
    return l;
}

static void append_titles(wfi_text *script, const plot_spectra *s, const layout *l)
{
    char span[PLOT_SPAN_BYTES];
    char second[WF_NAME_BYTES + PLOT_SPAN_BYTES + 8];
    plot_format_span(span, s->stretch);
    snprintf(second, sizeof second, "%s,  %s", s->info->source_names[s->stretch->i_source], span);
    plot_title(script, "Autocorrelation spectra", second);
    for (size_t k = 0; k < l->n_products; k++)
        plot_label(script, plot_product_name(s->info->first_product_code - (int)l->products[k]),
                   RIGHT - 0.022 * (double)(l->n_products - 1 - k), 0.955, "right",
                   k == 0 ? "font 'Sans:Bold,14' textcolor rgb '" PLOT_FIRST_COLOUR "'"
                          : "font 'Sans:Bold,14' textcolor rgb '" PLOT_SECOND_COLOUR "'");
    plot_label(script, s->info->campaign, RIGHT, 0.022, "right",
               "font 'Sans,10.5' textcolor rgb '" PLOT_FAINT "'");
}

wf_status plot_autocorrelation_page(wfi_text *script, const char *picture, const plot_spectra *s,
                                    wf_error *err)
{
    const layout l = choose_layout(s);
    plot_begin(script, picture);
    append_titles(script, s, &l);
    for (size_t i = 0; i < s->n_stations; i++)
        append_curves(script, s, i, &l);
    for (size_t i = 0; i < s->n_stations; i++)
        draw_panel(script, s, i, &l);
    wfi_text_append(script, "unset multiplot\n");
    return script->failed ? wfi_fail(err, WF_MEMORY, "out of memory for a picture") : WF_OK;
}
