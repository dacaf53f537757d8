/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What all figures of the page share. */
#include "report/figure.h"

#include <stdio.h>

/* Okabe and Ito 2008, in an order that keeps neighbours apart for all eyes. */
const char *const figure_colours[FIGURE_COLOURS] = {
    PLOT_FIRST_COLOUR, PLOT_SECOND_COLOUR, "#009e73", "#cc79a7", "#e69f00", "#56b4e9", PLOT_FAINT};

void figure_begin(figure *f, int height)
{
    f->height = height;
    wfi_text_append(&f->script, "reset\nset multiplot\n");
    plot_append_looks(&f->script);
    wfi_text_append(&f->script, "set xlabel offset 0,0.4 textcolor rgb '" PLOT_INK
                                "'\nset ylabel offset 1,0 textcolor rgb '" PLOT_INK "'\n");
}

void figure_release(figure *f)
{
    wfi_text_release(&f->script);
}

static void put(figure *f, const char *text, double x, double y, const char *align,
                const char *style)
{
    plot_label(&f->script, text, x / FIGURE_WIDTH, 1 - y / f->height, align, style);
}

void figure_title(figure *f, const char *title, const char *second)
{
    put(f, title, 10, 18, "left", "font 'sans-serif:Bold,15' textcolor rgb '" PLOT_INK "'");
    if (second != NULL)
        figure_label(f, second, 10, 38, "left", FIGURE_NOTE);
}

void figure_label(figure *f, const char *text, double x, double y, const char *align,
                  figure_style style)
{
    static const char *const styles[] = {
        [FIGURE_PLAIN] = "font 'sans-serif,13' textcolor rgb '" PLOT_INK "'",
        [FIGURE_NOTE] = "font 'sans-serif,13' textcolor rgb '" PLOT_FAINT "'",
        [FIGURE_STRONG] = "font 'sans-serif:Bold,13' textcolor rgb '" PLOT_INK "'",
    };
    put(f, text, x, y, align, styles[style]);
}

void figure_key(figure *f, const char *text, double x, double y, const char *align,
                const char *colour)
{
    char style[96];
    snprintf(style, sizeof style, "font 'sans-serif:Bold,13' textcolor rgb '%s'", colour);
    put(f, text, x, y, align, style);
}

void figure_panel(figure *f, double left, double right, double top, double bottom)
{
    wfi_text_append(&f->script,
                    "set lmargin at screen %.5f\nset rmargin at screen %.5f\n"
                    "set tmargin at screen %.5f\nset bmargin at screen %.5f\n",
                    left / FIGURE_WIDTH, right / FIGURE_WIDTH, 1 - top / f->height,
                    1 - bottom / f->height);
}

void figure_y_axis(figure *f, double low, double high, double n)
{
    wfi_text_append(&f->script, "set yrange [%.9g:%.9g]\nset ytics %.9g format '%%g'\n", low, high,
                    plot_round_step(high - low, n));
}
