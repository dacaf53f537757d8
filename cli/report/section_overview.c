/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All baselines at a glance: coloured tables of signal-to-noise ratios. */
#include <stdio.h>

#include "base/status.h"
#include "report/page.h"

/* Cells of the tables of baselines together, the first table always; steps of the colours. */
enum { CELLS_MAX = 1500, N_STEPS = 6 };

/* Steps of the colours, in signal-to-noise ratio. */
static const double steps[N_STEPS] = {7, 15, 30, 70, 150, 300};

static int colour_of(double snr)
{
    int k = 0;
    while (k < N_STEPS && snr >= steps[k])
        k++;
    return k;
}

static void append_heat(wfi_text *out, const report_row *row)
{
    if (row->measured && report_row_found(row))
        wfi_text_append(out, "<td class=\"heat heat%d\">%.*f</td>",
                        1 + (colour_of(row->peak.snr) * 5 + 3) / N_STEPS,
                        row->peak.snr < 100 ? 1 : 0, row->peak.snr);
    else
        wfi_text_append(out, "<td class=\"heat heatx\">%s</td>",
                        row->measured ? "none" : "no data");
}

static void append_legend(wfi_text *out)
{
    wfi_text_append(out, "<ul class=\"legend\" aria-label=\"colours by signal-to-noise ratio\">"
                         "<li class=\"heatx\">none found</li>");
    for (int k = 0; k <= N_STEPS; k++) {
        const int colour = 1 + (k * 5 + 3) / N_STEPS;
        if (k == 0)
            wfi_text_append(out, "<li class=\"heat%d\">below %g</li>", colour, steps[0]);
        else if (k == N_STEPS)
            wfi_text_append(out, "<li class=\"heat%d\">from %g</li>", colour, steps[k - 1]);
        else if (colour != 1 + ((k - 1) * 5 + 3) / N_STEPS)
            wfi_text_append(out, "<li class=\"heat%d\">from %g</li>", colour, steps[k - 1]);
    }
    wfi_text_append(out, "</ul>\n");
}

static void append_band_heads(wfi_text *heads, const survey *s)
{
    wfi_text_append(heads, "baseline");
    for (size_t b = 0; b < s->info->n_bands; b++) {
        for (size_t k = 0; k < s->info->n_products; k++)
            wfi_text_append(heads, "|#%zu %s", b + 1, survey_product(s, k));
    }
}

/* Baselines by bands and products of one stretch. */
static void append_stretch(wfi_text *out, const survey *s, size_t i_stretch, const char *heads)
{
    char caption[WF_NAME_BYTES + PLOT_SPAN_BYTES + 64];
    char span[PLOT_SPAN_BYTES];
    const wf_stretch *stretch = wf_stretches_get(s->stretches, i_stretch);
    plot_format_span(span, stretch);
    snprintf(caption, sizeof caption,
             "Signal-to-noise ratios by band and product, stretch %zu: %s, %s", i_stretch + 1,
             s->info->source_names[stretch->i_source], span);
    html_table_begin(out, caption, heads);
    for (size_t i = 0; i < s->n_baselines; i++) {
        const survey_baseline *b = &s->baselines[i];
        char pair[SURVEY_PAIR_BYTES];
        if (b->i_stretch != i_stretch)
            continue;
        survey_pair(pair, s, b->i_station, b->j_station);
        html_row_begin(out);
        html_row_head(out, "%s", pair);
        for (size_t k = 0; k < s->info->n_bands * s->info->n_products; k++)
            append_heat(out, &survey_rows(s, b)[k]);
        html_row_end(out);
    }
    html_table_end(out);
}

/* The strongest row of a station in a stretch. */
static const report_row *strongest_of(const survey *s, size_t i_stretch, size_t i_station)
{
    const report_row *best = NULL;
    for (size_t i = s->first_baseline[i_stretch]; i < s->first_baseline[i_stretch + 1]; i++) {
        const survey_baseline *b = &s->baselines[i];
        const report_row *row = survey_strongest(s, b);
        if ((b->i_station == i_station || b->j_station == i_station) &&
            (best == NULL || (row->measured && row->peak.snr > best->peak.snr)))
            best = row;
    }
    return best;
}

/* Stretches by stations: the best of each station's baselines. */
static void append_stations(wfi_text *out, const survey *s)
{
    wfi_text heads = {0};
    wfi_text_append(&heads, "stretch|source");
    for (size_t i = 0; i < s->info->n_stations; i++)
        wfi_text_append(&heads, "|#%s", s->info->station_names[i]);
    html_table_begin(out, "The highest signal-to-noise ratio of each station's baselines",
                     heads.failed ? "" : heads.bytes);
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++) {
        html_row_begin(out);
        html_row_head(out, "%zu", i + 1);
        html_cell(out, "%s", s->info->source_names[wf_stretches_get(s->stretches, i)->i_source]);
        for (size_t k = 0; k < s->info->n_stations; k++) {
            const report_row *row = strongest_of(s, i, k);
            if (row != NULL)
                append_heat(out, row);
            else
                wfi_text_append(out, "<td class=\"heat heatx\">–</td>");
        }
        html_row_end(out);
    }
    html_table_end(out);
    wfi_text_release(&heads);
}

static size_t n_cells_of(const survey *s, size_t i_stretch)
{
    const size_t n = s->first_baseline[i_stretch + 1] - s->first_baseline[i_stretch];
    return n * s->info->n_bands * s->info->n_products;
}

static void append_stretches(page *p, const char *heads)
{
    const survey *s = p->survey;
    const size_t n = wf_stretches_n(s->stretches);
    size_t n_cells = 0;
    size_t i = 0;
    for (; i < n; i++) {
        n_cells += n_cells_of(s, i);
        if (!p->all && i > 0 && n_cells > CELLS_MAX)
            break;
        append_stretch(&p->body, s, i, heads);
    }
    if (i < n)
        html_element(&p->body, "p", "note",
                     "Tables of the other %zu stretches are left out; --all writes them, and "
                     "summary.txt has the numbers.",
                     n - i);
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    wfi_text heads = {0};
    if (s->n_baselines == 0)
        return WF_OK;
    append_legend(&p->body);
    if (wf_stretches_n(s->stretches) > 1)
        append_stations(&p->body, s);
    append_band_heads(&heads, s);
    if (!heads.failed)
        append_stretches(p, heads.bytes);
    const bool failed = heads.failed;
    wfi_text_release(&heads);
    return failed ? wfi_fail(err, WF_MEMORY, "out of memory for a table") : WF_OK;
}

const section section_overview = {"overview", "All baselines", append};
