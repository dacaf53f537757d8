/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What all pictures share: looks, texts, and the frequency axis. */
#include "plot.h"

#include <math.h>
#include <string.h>

#include "json.h"

enum { TICKS_MAX = 8 };
static const double SLOT_MARGIN = 0.03;
/* Labels this near to the end of a slot would run into the next one's. */
static const double TICK_CLEARANCE = 0.12;

void plot_begin(wfi_text *script, const char *picture, int height)
{
    wfi_text_append(script,
                    "set encoding utf8\n"
                    "set terminal pngcairo size %d,%d noenhanced font 'Sans,12' "
                    "background '#ffffff' linewidth 1\n"
                    "set output ",
                    PLOT_WIDTH, height);
    plot_quote(script, picture);
    wfi_text_append(script, "\nset multiplot\n");
    plot_append_looks(script);
}

void plot_append_looks(wfi_text *script)
{
    wfi_text_append(
        script,
        "unset key\n"
        "set minussign\n"
        "set border 3 linewidth 1 linecolor rgb '" PLOT_LINE "'\n"
        "set tics out nomirror scale 0.5 textcolor rgb '" PLOT_INK "'\n"
        "set grid ytics linetype 1 linewidth 0.7 linecolor rgb '" PLOT_GRID "'\n"
        /* dark to light in even steps of lightness, from blue to yellow: the same order for all
         * eyes, and in grey */
        "set palette defined (0 '#0b1a33', 1 '#17406d', 2 '#2f6f8f', 3 '#5f9c98', 4 '#a3c596', "
        "5 '#ead9a0', 6 '#fff6c8')\n");
}

void plot_quote(wfi_text *script, const char *text)
{
    wfi_text_append(script, "'");
    for (const char *p = text; *p != '\0';) {
        const size_t n = json_utf8_length(p);
        if (*p == '\'')
            wfi_text_append(script, "''");
        else if (n == 0 || (unsigned char)*p < 0x20 || *p == 0x7f)
            wfi_text_append(script, "?");
        else
            wfi_text_append(script, "%.*s", (int)n, p);
        p += n > 0 ? n : 1;
    }
    wfi_text_append(script, "'");
}

void plot_label(wfi_text *script, const char *text, double x, double y, const char *align,
                const char *style)
{
    wfi_text_append(script, "set label ");
    plot_quote(script, text);
    wfi_text_append(script, " at screen %.4f,%.4f %s %s\n", x, y, align, style);
}

void plot_format_span(char text[PLOT_SPAN_BYTES], const wf_stretch *stretch)
{
    char start[WF_INSTANT_TEXT_BYTES];
    char end[WF_INSTANT_TEXT_BYTES];
    /* formatted times are rounded down: half of the last digit more rounds them to the nearest */
    const double length_s = stretch->interval_s * (double)stretch->n_times;
    wf_instant_format(start, wf_instant_add(stretch->start, 0.05), 1);
    wf_instant_format(end, wf_instant_add(stretch->start, length_s + 0.05), 1);
    const bool same_day = strncmp(start, end, 10) == 0;
    start[10] = ' ';
    end[10] = ' ';
    snprintf(text, PLOT_SPAN_BYTES, "%s to %s UTC", start, same_day ? end + 11 : end);
}

const char *plot_product_name(int code)
{
    static const char *const correlations[] = {"RR", "LL", "RL", "LR", "XX", "YY", "XY", "YX"};
    static const char *const stokes[] = {"I", "Q", "U", "V"};
    if (code <= -1 && code >= -8)
        return correlations[-code - 1];
    return code >= 1 && code <= 4 ? stokes[code - 1] : "?";
}

static bool is_parallel(int code)
{
    return code == 1 || code == -1 || code == -2 || code == -5 || code == -6;
}

size_t plot_choose_products(size_t chosen[2], const wf_fits_idi_info *info)
{
    size_t n = 0;
    for (size_t p = 0; p < info->n_products && n < 2; p++) {
        if (is_parallel(info->first_product_code - (int)p))
            chosen[n++] = p;
    }
    while (n == 0 || (n < 2 && !is_parallel(info->first_product_code - (int)chosen[0]) &&
                      n < info->n_products)) {
        chosen[n] = n;
        n++;
    }
    return n;
}

double plot_slot(const wf_fits_idi_info *info, size_t i_band, double channel)
{
    return (double)i_band + SLOT_MARGIN +
           (1 - 2 * SLOT_MARGIN) * (channel + 0.5) / (double)info->n_channels;
}

double plot_round_step(double range, double n)
{
    static const double steps[] = {1, 2, 2.5, 5, 10};
    const double power = pow(10, floor(log10(range / n)));
    for (size_t i = 0; i + 1 < sizeof steps / sizeof steps[0]; i++) {
        if (steps[i] * power * n >= range)
            return steps[i] * power;
    }
    return 10 * power;
}

static int decimals_of_step(double step)
{
    for (int n = 0; n < 6; n++) {
        if (fabs(step * pow(10, n) - rint(step * pow(10, n))) < 1e-6)
            return n;
    }
    return 6;
}

/* Ticks at round frequencies of one band, in MHz. */
static void band_ticks(wfi_text *script, const wf_fits_idi_info *info, size_t i_band,
                       double n_ticks, bool labels)
{
    const double width = 1e-6 * info->channel_width_hz;
    const double low = 1e-6 * info->band_first_hz[i_band] - 0.5 * width;
    const double range = width * (double)info->n_channels;
    const double step = plot_round_step(range, n_ticks);
    for (double k = ceil(low / step); k * step <= low + range; k++) {
        const double x = plot_slot(info, i_band, (k * step - low) / width - 0.5);
        const bool clear = i_band + 1 == info->n_bands || x < (double)(i_band + 1) - TICK_CLEARANCE;
        wfi_text_append(script, "%s'", script->bytes[script->n - 1] == '(' ? "" : ", ");
        if (labels && clear)
            wfi_text_append(script, "%.*f", decimals_of_step(step), k * step);
        wfi_text_append(script, "' %.6f", x);
    }
}

static void middle_tick(wfi_text *script, const wf_fits_idi_info *info, size_t i_band, bool labels)
{
    const double middle = 0.5 * ((double)info->n_channels - 1);
    wfi_text_append(script, "%s'", script->bytes[script->n - 1] == '(' ? "" : ", ");
    if (labels)
        wfi_text_append(script, "%.2f",
                        1e-6 * (info->band_first_hz[i_band] + middle * info->channel_width_hz));
    wfi_text_append(script, "' %.6f", plot_slot(info, i_band, middle));
}

void plot_power_axis(wfi_text *script, double largest, double n_steps)
{
    const double top = largest > 0 ? 1.1 * largest : 1;
    wfi_text_append(script, "set yrange [0:%.6g]\nset ytics 0,%.6g format '%%g'\n", top,
                    plot_round_step(top, n_steps));
}

/* How many upright labels a band has room for: 9 of 1600 points a character, and a gap. */
static double labels_that_fit(const wf_fits_idi_info *info, double room)
{
    char text[32];
    const int n = snprintf(text, sizeof text, "%.2f", 1e-6 * info->band_first_hz[0]);
    return floor(room / (double)info->n_bands / ((9.0 * n + 14.0) / 1600.0));
}

bool plot_slot_is_slanted(const wf_fits_idi_info *info, double room)
{
    return labels_that_fit(info, room) < 1;
}

void plot_slot_axis(wfi_text *script, const wf_fits_idi_info *info, bool labels, double room)
{
    const double n_bands = (double)info->n_bands;
    const double fit = labels_that_fit(info, room);
    wfi_text_append(script, "set xrange [0:%.0f]\nset xtics %s (", n_bands,
                    fit >= 1 ? "norotate" : "rotate by 50 right");
    for (size_t b = 0; b < info->n_bands; b++) {
        if (fit >= 2)
            band_ticks(script, info, b, fit < TICKS_MAX ? fit : TICKS_MAX, labels);
        else
            middle_tick(script, info, b, labels);
    }
    wfi_text_append(script, ")\n");
    for (size_t b = 1; b < info->n_bands; b++)
        wfi_text_append(script,
                        "set arrow %zu from first %zu, graph 0 to first %zu, graph 1 nohead back "
                        "linewidth 1 linecolor rgb '" PLOT_DIVIDER "'\n",
                        b, b, b);
}
