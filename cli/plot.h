/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What all pictures share: looks, texts, and the frequency axis. */
#ifndef CLI_PLOT_H
#define CLI_PLOT_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/fringe.h>
#include <whitefringe/visibility.h>

#include "base/text.h"

/** Colours that differ in lightness too (Okabe and Ito 2008, blue and vermilion). */
#define PLOT_FIRST_COLOUR "#0072b2"
#define PLOT_SECOND_COLOUR "#d55e00"
#define PLOT_INK "#1c2733"
#define PLOT_FAINT "#6b7785"
#define PLOT_LINE "#8a95a1"
#define PLOT_DIVIDER "#c3cad1"
#define PLOT_GRID "#e6eaee"
#define PLOT_FILL "#dbe8f1"

/** Terminal, fonts, palette, borders for a picture of its own, of so many points; it goes to
 *  `picture`. */
enum { PLOT_WIDTH = 1600 };
void plot_begin(wfi_text *script, const char *picture, int height);

/** Borders, ticks, grid and palette. */
void plot_append_looks(wfi_text *script);

/** A text as gnuplot reads it: in single quotes, control characters and bytes that are no UTF-8
 *  replaced. */
void plot_quote(wfi_text *script, const char *text);

/** A label at a place of the page. align: "left", "center", "right"; style: font and colour. */
void plot_label(wfi_text *script, const char *text, double x, double y, const char *align,
                const char *style);

/** "2026-03-01 12:00:00.0 to 12:00:04.0 UTC". */
enum { PLOT_SPAN_BYTES = 112 };
void plot_format_span(char text[PLOT_SPAN_BYTES], const wf_stretch *stretch);

/** Name of a product code, such as "RR" for -1; codes as in FITS-IDI. */
const char *plot_product_name(int code);

/** The products to draw as curves: at most two, parallel hands where there are any. Returns how
 *  many. */
size_t plot_choose_products(size_t chosen[2], const wf_fits_idi_info *info);

/** The frequency axis: bands side by side, each as wide as the others, gaps between them left out.
 *
 *  returns  the place of a channel; band b fills [b, b + 1)
 */
double plot_slot(const wf_fits_idi_info *info, size_t i_band, double channel);

/** 1, 2, 2.5 or 5 times a power of ten: the smallest that needs at most n steps for the range. */
double plot_round_step(double range, double n);

/** Range and few ticks of a y axis from 0 to a little above the largest value. */
void plot_power_axis(wfi_text *script, double largest, double n_steps);

/** Whether the labels of the frequency axis are slanted, because they would not fit upright. */
bool plot_slot_is_slanted(const wf_fits_idi_info *info, double room);

/** Ticks, range and lines between the bands for the x axis. labels: whether they are written.
 *  room: part of the page's width that the axis has. */
void plot_slot_axis(wfi_text *script, const wf_fits_idi_info *info, bool labels, double room);

#endif
