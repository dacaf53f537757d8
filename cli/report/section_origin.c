/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the file is and says about itself. */
#include "base/status.h"
#include "report/page.h"

static void append_shape(wfi_text *out, const survey *s)
{
    const wf_fits_idi_info *info = s->info;
    html_table_begin(out, "Bands of the file",
                     "band|#first channel / MHz|#middle / MHz|#channels|"
                     "#channel width / kHz");
    for (size_t b = 0; b < info->n_bands; b++) {
        html_row_begin(out);
        html_row_head(out, "%zu", b + 1);
        html_number(out, "%.6f", 1e-6 * info->band_first_hz[b]);
        html_number(out, "%.6f", 1e-6 * survey_band_middle_hz(s, b));
        html_number(out, "%zu", info->n_channels);
        html_number(out, "%.6g", 1e-3 * info->channel_width_hz);
        html_row_end(out);
    }
    html_table_end(out);
}

static void append_stretches(wfi_text *out, const survey *s)
{
    html_table_begin(out, "Stretches: integrations of one source without a gap",
                     "stretch|source|time|#integrations|#of / s");
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++) {
        const wf_stretch *stretch = wf_stretches_get(s->stretches, i);
        char span[PLOT_SPAN_BYTES];
        plot_format_span(span, stretch);
        html_row_begin(out);
        html_row_head(out, "%zu", i + 1);
        html_cell(out, "%s", s->info->source_names[stretch->i_source]);
        html_cell(out, "%s", span);
        html_number(out, "%zu", stretch->n_times);
        html_number(out, "%.6g", stretch->interval_s);
        html_row_end(out);
    }
    html_table_end(out);
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    (void)err;
    append_shape(&p->body, s);
    append_stretches(&p->body, s);
    if (s->notes->history[0] != '\0') {
        html_element(&p->body, "h3", NULL, "History");
        wfi_text_append(&p->body, "<pre>");
        for (const char *line = s->notes->history; *line != '\0';) {
            size_t n = 0;
            char card[96];
            while (line[n] != '\0' && line[n] != '\n' && n < sizeof card - 1) {
                card[n] = line[n];
                n++;
            }
            card[n] = '\0';
            html_text(&p->body, card);
            wfi_text_append(&p->body, "\n");
            line += n + (line[n] == '\n');
        }
        wfi_text_append(&p->body, "</pre>\n");
    }
    html_element(&p->body, "p", "note", "The pictures of this page stand beside it as PNG files.");
    return WF_OK;
}

const section section_origin = {"origin", "The file", append};
