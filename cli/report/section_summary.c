/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verdict: of the file in one sentence, of each station in a few. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "report/page.h"
#include "report/verdict.h"

static void append_snr(wfi_text *out, const verdict *v)
{
    if (v->n_found == 0)
        return;
    if (v->n_found == 1 || !(v->snr_high > v->snr_low))
        html_element(out, "p", NULL, "Signal-to-noise ratio %.1f.", v->snr_high);
    else
        html_element(out, "p", NULL, "Signal-to-noise ratios from %.1f to %.1f.", v->snr_low,
                     v->snr_high);
}

static void append_station(wfi_text *out, const survey *s, size_t i_station)
{
    static const char *const kinds[] = {"good", "doubt", "bad"};
    const verdict v = verdict_of(s, i_station);
    wfi_text_append(out, "<li class=\"%s\">", kinds[v.level]);
    html_element(out, "h3", NULL, "%s", s->info->station_names[i_station]);
    html_element(out, "p", "verdict", "%s.", v.words);
    append_snr(out, &v);
    if (isfinite(v.valid_fraction))
        html_element(out, "p", NULL, "%.2f %% of its data are valid.", 100 * v.valid_fraction);
    if (v.n_doubts > 0) {
        wfi_text_append(out, "<ul>");
        for (size_t i = 0; i < v.n_doubts; i++)
            html_element(out, "li", NULL, "%s", v.doubts[i]);
        wfi_text_append(out, "</ul>");
    }
    wfi_text_append(out, "</li>\n");
}

static void append_lead(wfi_text *out, const survey *s)
{
    const size_t n_stretches = wf_stretches_n(s->stretches);
    size_t n_found = 0;
    for (size_t i = 0; i < s->n_baselines; i++)
        n_found += survey_any_found(s, &s->baselines[i]);
    if (s->n_baselines == 0)
        html_element(out, "p", "lead", "The file has no baselines, only single stations.");
    else
        html_element(out, "p", "lead", "Fringes on %zu of %zu baselines%s.", n_found,
                     s->n_baselines, n_stretches > 1 ? ", each stretch counted" : "");
    const wf_stretch *first = wf_stretches_get(s->stretches, 0);
    const wf_stretch *last = wf_stretches_get(s->stretches, n_stretches - 1);
    char start[WF_INSTANT_TEXT_BYTES];
    char stop[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(start, wf_instant_add(first->start, 0.5), 0);
    wf_instant_format(
        stop, wf_instant_add(last->start, last->interval_s * (double)last->n_times + 0.5), 0);
    html_element(out, "p", NULL,
                 "%.10s %s to %.10s %s UTC: %zu stretch%s, %zu integrations, %zu stations, %zu "
                 "band%s of %zu channels, %zu product%s.",
                 start, start + 11, stop, stop + 11, n_stretches, n_stretches > 1 ? "es" : "",
                 s->n_times, s->info->n_stations, s->info->n_bands, s->info->n_bands > 1 ? "s" : "",
                 s->info->n_channels, s->info->n_products, s->info->n_products > 1 ? "s" : "");
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    (void)err;
    append_lead(&p->body, s);
    wfi_text_append(&p->body, "<ul class=\"stations\">\n");
    for (size_t i = 0; i < s->info->n_stations; i++) {
        if (s->info->station_names[i][0] != '\0')
            append_station(&p->body, s, i);
    }
    wfi_text_append(&p->body, "</ul>\n");
    html_element(&p->body, "p", "note",
                 "A fringe counts as found where noise alone would reach its height less often "
                 "than once in a million such searches; each band and product is one."
                 " Numbers of weaker ones are in the tables all the same.");
    return WF_OK;
}

const section section_summary = {"summary", "Summary", append};
