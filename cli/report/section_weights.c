/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Weights and losses over time. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "report/page.h"
#include "report/time_axis.h"

enum { LEFT = 92, RIGHT = 412, TOP = 50, ROW = 22, FOOT = 62, COLUMNS_MAX = 600 };

/* The lowest weight of the integrations that fall into each column; NaN: no rows. */
static void append_strip(figure *f, const survey *s, size_t i_station, size_t n_columns)
{
    const float *weight = s->weight + i_station * s->n_times;
    for (size_t k = 0; k < n_columns; k++) {
        float lowest = INFINITY;
        for (size_t t = k * s->n_times / n_columns; t < (k + 1) * s->n_times / n_columns; t++) {
            if (weight[t] >= 0)
                lowest = fminf(lowest, weight[t]);
        }
        if (isfinite(lowest))
            wfi_text_append(&f->script, "%.4f ", (double)lowest);
        else
            wfi_text_append(&f->script, "NaN ");
    }
    wfi_text_append(&f->script, "\n");
}

static void append_station_names(figure *f, const survey *s)
{
    const double n = (double)s->info->n_stations;
    wfi_text_append(&f->script, "set yrange [%.6g:0]\nset ytics (", n);
    for (size_t i = 0; i < s->info->n_stations; i++) {
        wfi_text_append(&f->script, "%s", i > 0 ? ", " : "");
        plot_quote(&f->script, s->info->station_names[i]);
        wfi_text_append(&f->script, " %.1f", (double)i + 0.5);
    }
    wfi_text_append(&f->script, ")\n");
}

static void draw(figure *f, const survey *s)
{
    const size_t n_columns = s->n_times < COLUMNS_MAX ? s->n_times : COLUMNS_MAX;
    const double bottom = TOP + ROW * (double)s->info->n_stations;
    figure_begin(f, (int)bottom + FOOT);
    wfi_text_append(&f->script, "$valid << EOD\n");
    for (size_t i = 0; i < s->info->n_stations; i++)
        append_strip(f, s, i, n_columns);
    wfi_text_append(&f->script, "EOD\n");
    figure_title(f, "Valid fraction of each station's data",
                 n_columns < s->n_times ? "the lowest of the integrations in each column" : NULL);
    figure_panel(f, LEFT, RIGHT, TOP, bottom);
    append_station_names(f, s);
    time_axis_append(f, s);
    wfi_text_append(
        &f->script,
        "unset grid\nset border 15\nset cbrange [0:1]\n"
        "set palette defined (0 '#a1252c', 0.6 '#dd9a4a', 0.93 '#efe3c4', 1 '#2f6f8f')\n"
        "set colorbox user origin screen %.4f,%.4f size screen %.4f,%.4f\n"
        "set cbtics 0,0.5,1 format '%%g'\n"
        "plot $valid matrix using (%.9g*($1+0.5)):($2+0.5):3 with image\n",
        (RIGHT + 14.0) / FIGURE_WIDTH, 1 - bottom / f->height, 12.0 / FIGURE_WIDTH,
        (bottom - TOP) / f->height, (double)s->n_times / (double)n_columns);
}

typedef struct losses {
    size_t n; /* integrations with rows */
    size_t n_less;
    size_t n_none;
    double sum;
} losses;

static losses count(const survey *s, size_t i_station)
{
    losses l = {0};
    const float *weight = s->weight + i_station * s->n_times;
    for (size_t t = 0; t < s->n_times; t++) {
        if (weight[t] < 0)
            continue;
        l.n++;
        l.n_less += weight[t] < 0.9995F;
        l.n_none += !(weight[t] > 0);
        l.sum += (double)weight[t];
    }
    return l;
}

static void append_table(wfi_text *out, const survey *s)
{
    html_table_begin(out, "What of each station's data was valid",
                     "station|#integrations|#valid|#with losses|#all lost|#flags in the file");
    for (size_t i = 0; i < s->info->n_stations; i++) {
        const losses l = count(s, i);
        html_row_begin(out);
        html_row_head(out, "%s", s->info->station_names[i]);
        html_number(out, "%zu", l.n);
        if (l.n > 0)
            html_number(out, "%.3f %%", 100 * l.sum / (double)l.n);
        else
            html_number(out, "no data");
        html_number(out, "%zu", l.n_less);
        html_number(out, "%zu", l.n_none);
        html_number(out, "%zu", s->notes->n_flags[i]);
        html_row_end(out);
    }
    html_table_end(out);
}

static wf_status append(page *p, wf_error *err)
{
    figure f = {0};
    html_element(&p->body, "p", "note",
                 "The weight of an integration is the fraction of its samples that was valid. A "
                 "station's is that of its autocorrelation, or of its best baseline.");
    page_figures_begin(p);
    draw(&f, p->survey);
    WFI_TRY(page_figure(p, &f,
                        &(figure_words){"weights", "Valid fraction of each station over time",
                                        "Blue: all of an integration was valid; pale to red: part "
                                        "of it was lost; blank: the file has no data."},
                        err));
    page_figures_end(p);
    append_table(&p->body, p->survey);
    return WF_OK;
}

const section section_weights = {"weights", "Weights and losses", append};
