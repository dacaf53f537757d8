/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The loss budget: what each step leaves of the amplitude, and whether the noise is as it should
 * be. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "report/loss_factors.h"
#include "report/page.h"

enum { ROWS_MAX = 200 };

/* Long words may be broken, so that the table fits on paper. */
#define SOFT_HYPHEN "\xc2\xad"
static const char HEADS[] =
    "baseline|stretch, band|#quanti" SOFT_HYPHEN "sation|#rotation, at least|#whole samples|#delay "
    "in a channel|#rate in an inte" SOFT_HYPHEN "gration|#coher" SOFT_HYPHEN
    "ence in time|#valid|#noise / 10⁻⁶|#ex" SOFT_HYPHEN "pected|#ratio";

static void append_factor(wfi_text *out, double factor)
{
    if (!isfinite(factor))
        html_number(out, "–");
    else if (1 - factor < 5e-6)
        html_number(out, "1.00000");
    else
        html_number(out, "%.5f", factor);
}

/* Over the whole stretch; measured, all others are predicted. */
static void append_coherence(wfi_text *out, const wf_coherence *coherence)
{
    if (coherence != NULL)
        html_number(out, "%.4f", coherence->points[coherence->n_points - 1].coherence);
    else
        html_number(out, "–");
}

/* In millionths of a correlation coefficient: measured, expected, and their ratio. */
static void append_noise(wfi_text *out, const survey *s, const report_row *row)
{
    const double expected = loss_expected_noise(s, row);
    const double measured = row->peak.amplitude / row->peak.snr;
    if (isfinite(measured))
        html_number(out, "%.4g", 1e6 * measured);
    else
        html_number(out, "–");
    if (isfinite(expected) && isfinite(measured)) {
        html_number(out, "%.4g", 1e6 * expected);
        html_number(out, "%.3f", measured / expected);
    } else {
        html_number(out, "not known");
        html_number(out, "–");
    }
}

static void append_row(wfi_text *out, const survey *s, const survey_baseline *b)
{
    const report_row *row = survey_strongest(s, b);
    const loss_factors f = loss_factors_of(s, row);
    char pair[SURVEY_PAIR_BYTES];
    survey_pair(pair, s, b->i_station, b->j_station);
    html_row_begin(out);
    html_row_head(out, "%s", pair);
    html_cell(out, "%zu: %zu %s", b->i_stretch + 1, row->i_band + 1,
              survey_product(s, row->i_product));
    append_factor(out, f.quantisation);
    append_factor(out, f.rotation);
    append_factor(out, f.alignment);
    append_factor(out, f.channel);
    append_factor(out, f.integration);
    append_coherence(out, b->stability.coherence);
    append_factor(out, row->valid_fraction);
    append_noise(out, s, row);
    html_row_end(out);
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    size_t n = 0;
    (void)err;
    for (size_t i = 0; i < s->n_baselines; i++)
        n += survey_any_found(s, &s->baselines[i]);
    if (n == 0)
        return WF_OK;
    const loss_factors f = loss_factors_of(s, survey_rows(s, &s->baselines[0]));
    html_element(&p->body, "p", NULL, "Factors on the amplitude, 1 where nothing is lost. %s",
                 f.quantisation_is_corrected
                     ? "The loss to quantisation is already made up for in the file, and shows in "
                       "the noise alone."
                     : "The loss to quantisation is not made up for in the file, as far as it "
                       "says.");
    html_table_begin(
        &p->body, "Predicted losses of the strongest row of each baseline, and its noise", HEADS);
    size_t n_written = 0;
    for (size_t i = 0; i < s->n_baselines && (p->all || n_written < ROWS_MAX); i++) {
        if (!survey_any_found(s, &s->baselines[i]))
            continue;
        append_row(&p->body, s, &s->baselines[i]);
        n_written++;
    }
    html_table_end(&p->body);
    if (n_written < n)
        html_element(&p->body, "p", "note", "The first %zu of %zu; --all writes all.", n_written,
                     n);
    html_element(&p->body, "p", "note",
                 "A dash: the file does not say. Whole samples: segments of two stations begin up "
                 "to a sample apart. Delay and "
                 "rate: what averaging over a channel and an integration costs at the residuals "
                 "that were found. Coherence in time: measured, of the phase over the stretch. "
                 "Valid: the fraction that was; it raises the noise and leaves "
                 "the amplitude. The noise expected is 1/√(2 B T valid), over the samplers' "
                 "efficiency where that is made up for: a ratio of 1 says that no more was lost.");
    return WF_OK;
}

const section section_losses = {"losses", "Loss budget", append};
