/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure of the page: one gnuplot script, drawn as SVG for the page and as PNG beside it. */
#ifndef CLI_REPORT_FIGURE_H
#define CLI_REPORT_FIGURE_H

#include "base/text.h"
#include "plot.h"

/** Width of all figures, in points; a PNG has twice as many pixels each way. */
enum { FIGURE_WIDTH = 480 };

/** Curves of one figure are told apart by these, again and again. */
enum { FIGURE_COLOURS = 7 };
extern const char *const figure_colours[FIGURE_COLOURS];

/** Start from {0}; release it. */
typedef struct figure {
    wfi_text script; /* what is drawn, without the terminal */
    int height;      /* points */
} figure;

void figure_begin(figure *f, int height);
void figure_release(figure *f);

/** The line at the head of the figure, and a fainter one below it (or NULL). */
void figure_title(figure *f, const char *title, const char *second);

/** A label at a place given in points from the left and from the top. */
typedef enum figure_style { FIGURE_PLAIN, FIGURE_NOTE, FIGURE_STRONG } figure_style;
void figure_label(figure *f, const char *text, double x, double y, const char *align,
                  figure_style style);

/** A label in the colour of a curve. */
void figure_key(figure *f, const char *text, double x, double y, const char *align,
                const char *colour);

/** Where the axes of the next plot stand, in points from the left and from the top. */
void figure_panel(figure *f, double left, double right, double top, double bottom);

/** A y axis from `low` to `high` with about n ticks. */
void figure_y_axis(figure *f, double low, double high, double n);

#endif
