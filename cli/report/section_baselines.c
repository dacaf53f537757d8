/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fringe, spectrum and numbers of chosen baselines. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "measure.h"
#include "report/baseline_figures.h"
#include "report/choice.h"
#include "report/page.h"
#include "report/stability_figures.h"

static const double DEG_PER_RAD = 57.29577951308232088;

static void append_numbers(wfi_text *out, const report_row *row)
{
    const wf_fringe_peak *peak = &row->peak;
    char text[MEASURE_BYTES];
    measure_format(text, peak->delay_s, peak->delay_error_s, "s");
    html_number(out, "%s", text);
    measure_format(text, peak->rate_s_per_s, peak->rate_error_s_per_s, "s/s");
    html_number(out, "%s", text);
    measure_format_plain(text, peak->amplitude, peak->amplitude / peak->snr);
    html_number(out, "%s", text);
    measure_format_fixed(text, DEG_PER_RAD * peak->phase_rad, DEG_PER_RAD / peak->snr, 1);
    html_number(out, "%s", text);
    html_number(out, "%.1f", peak->snr);
    measure_format_probability(text, peak->false_alarm);
    html_number(out, "%s", text);
    html_number(out, "%.2f %%", 100 * row->valid_fraction);
}

static void append_table(wfi_text *out, const survey *s, const report_row *rows)
{
    html_table_begin(out, "Each band and product by itself",
                     "band|#MHz|product|#delay|#rate|#amplitude|#phase / °|#SNR|#false alarm|"
                     "#valid");
    for (size_t i = 0; i < s->info->n_bands * s->info->n_products; i++) {
        const report_row *row = &rows[i];
        html_row_begin(out);
        html_row_head(out, "%zu", row->i_band + 1);
        html_number(out, "%.3f", 1e-6 * survey_band_middle_hz(s, row->i_band));
        html_cell(out, "%s%s", survey_product(s, row->i_product),
                  row->measured && !report_row_found(row) ? ", no fringe" : "");
        if (row->measured)
            append_numbers(out, row);
        else
            wfi_text_append(out, "<td colspan=\"7\">too little is valid for a fringe</td>");
        html_row_end(out);
    }
    html_table_end(out);
}

static void append_fit(wfi_text *out, const survey *s, const survey_fit *f)
{
    const wf_fringe_fit *fit = &f->fit;
    char text[MEASURE_BYTES];
    html_row_begin(out);
    html_row_head(out, "%s", survey_product(s, f->i_product));
    if (!f->measured) {
        wfi_text_append(out, "<td colspan=\"8\">too little is valid for a fringe</td>");
        html_row_end(out);
        return;
    }
    html_cell(out, "%s",
              !survey_fit_found(f) ? "no fringe"
              : f->free_phases     ? "do not line up"
                                   : "line up");
    if (f->free_phases)
        html_number(out, "–");
    else {
        measure_format(text, fit->delay_s, fit->delay_error_s, "s");
        html_number(out, "%s", text);
    }
    measure_format(text, fit->single_band_delay_s, fit->single_band_delay_error_s, "s");
    html_number(out, "%s", text);
    measure_format(text, fit->rate_s_per_s, fit->rate_error_s_per_s, "s/s");
    html_number(out, "%s", text);
    measure_format_plain(text, fit->amplitude, fit->amplitude / fit->snr);
    html_number(out, "%s", text);
    html_number(out, "%.3f", fit->band_coherence);
    html_number(out, "%.1f", fit->snr);
    measure_format_probability(text, fit->false_alarm);
    html_number(out, "%s", text);
    html_row_end(out);
}

/* One band has nothing to add to its own row. */
static void append_fits(wfi_text *out, const survey *s, const survey_baseline *baseline)
{
    if (s->info->n_bands < 2)
        return;
    html_table_begin(out, "All bands together",
                     "product|bands|#multi-band delay|#single-band delay|#rate|#amplitude|"
                     "#agreement of the bands|#SNR|#false alarm");
    for (size_t p = 0; p < s->info->n_products; p++)
        append_fit(out, s, &survey_fits(s, baseline)[p]);
    html_table_end(out);
}

static wf_status append_fringe(page *p, const wf_stretch_data *data, const report_row *row,
                               wf_error *err)
{
    char name[PAGE_NAME_BYTES];
    char pair[SURVEY_PAIR_BYTES];
    char title[SURVEY_PAIR_BYTES + 80];
    figure f = {0};
    page_name(name, p->survey, row->i_stretch, row->i_station, row->j_station, "fringe");
    survey_pair(pair, p->survey, row->i_station, row->j_station);
    snprintf(title, sizeof title, "%s over residual delay and rate, %s, stretch %zu",
             report_row_found(row) ? "The fringe" : "Noise", pair, row->i_stretch + 1);
    const wf_status status = fringe_figure(&f, p->survey, data, row, err);
    if (status == WF_OK)
        return page_figure(p, &f,
                           &(figure_words){name, title,
                                           report_row_found(row)
                                               ? "The band and product with the highest SNR: "
                                                 "amplitude over delay and rate."
                                               : "No fringe: the highest point is of noise."},
                           err);
    figure_release(&f);
    return status;
}

static wf_status append_spectrum(page *p, const wf_stretch_data *data, const report_row *rows,
                                 wf_error *err)
{
    char name[PAGE_NAME_BYTES];
    char pair[SURVEY_PAIR_BYTES];
    char title[SURVEY_PAIR_BYTES + 80];
    figure f = {0};
    page_name(name, p->survey, rows->i_stretch, rows->i_station, rows->j_station, "spectrum");
    survey_pair(pair, p->survey, rows->i_station, rows->j_station);
    snprintf(title, sizeof title, "Amplitude and phase over frequency, %s, stretch %zu", pair,
             rows->i_stretch + 1);
    const wf_status status = spectrum_figure(&f, p->survey, data, rows, err);
    if (status == WF_OK)
        return page_figure(p, &f,
                           &(figure_words){name, title,
                                           "Bands side by side, gaps between them left out. Lines "
                                           "in the phase: the delay of each fringe found."},
                           err);
    figure_release(&f);
    return status;
}

static wf_status draw_phase(page *p, const survey_baseline *b, const survey_phase *phase,
                            wf_error *err)
{
    char name[PAGE_NAME_BYTES];
    char pair[SURVEY_PAIR_BYTES];
    char title[SURVEY_PAIR_BYTES + 80];
    figure f = {0};
    page_name(name, p->survey, b->i_stretch, b->i_station, b->j_station, "time");
    survey_pair(pair, p->survey, b->i_station, b->j_station);
    snprintf(title, sizeof title, "Amplitude and phase in time, %s, stretch %zu", pair,
             b->i_stretch + 1);
    phase_figure(&f, p->survey, b, phase);
    return page_figure(p, &f,
                       &(figure_words){name, title,
                                       "The fringe of the strongest product, bands added in "
                                       "phase; turns of the phase followed."},
                       err);
}

static wf_status append_phase(page *p, const wf_stretch_data *data, const survey_baseline *b,
                              wf_error *err)
{
    const survey_fit *fit = survey_best_fit(p->survey, b);
    survey_phase phase = {0};
    wf_coherence *coherence = NULL;
    if (!survey_fit_found(fit))
        return WF_OK;
    wf_status status = survey_phase_make(&phase, data, fit, &coherence, err);
    if (status == WF_OK && phase.phase != NULL)
        status = draw_phase(p, b, &phase, err);
    wf_coherence_destroy(coherence);
    survey_phase_release(&phase);
    return status;
}

static wf_status append_pictures(page *p, const wf_stretch_data *data,
                                 const survey_baseline *baseline, wf_error *err)
{
    const report_row *rows = survey_rows(p->survey, baseline);
    const report_row *best = survey_strongest(p->survey, baseline);
    page_figures_begin(p);
    if (best->measured && best->peak.amplitude > 0)
        WFI_TRY(append_fringe(p, data, best, err));
    WFI_TRY(append_spectrum(p, data, rows, err));
    WFI_TRY(append_phase(p, data, baseline, err));
    page_figures_end(p);
    return WF_OK;
}

static wf_status append_baseline(page *p, const survey_baseline *baseline, wf_error *err)
{
    const survey *s = p->survey;
    const report_row *best = survey_strongest(s, baseline);
    char pair[SURVEY_PAIR_BYTES];
    wf_stretch_data *data = NULL;
    survey_pair(pair, s, baseline->i_station, baseline->j_station);
    html_element(&p->body, "h4", NULL, "%s", pair);
    if (!best->measured)
        html_element(&p->body, "p", NULL, "Too little is valid for a fringe.");
    else if (!(best->peak.amplitude > 0))
        html_element(&p->body, "p", NULL, "Nothing but zeros.");
    WFI_TRY(wf_stretch_read(&data, s->stretches, baseline->i_stretch, baseline->i_station,
                            baseline->j_station, err));
    const wf_status status = append_pictures(p, data, baseline, err);
    wf_stretch_data_destroy(data);
    append_fits(&p->body, s, baseline);
    append_table(&p->body, s, survey_rows(s, baseline));
    return status;
}

static wf_status append_chosen(page *p, const bool *chosen, wf_error *err)
{
    const survey *s = p->survey;
    size_t last = wf_stretches_n(s->stretches);
    for (size_t i = 0; i < s->n_baselines; i++) {
        const wf_status told = s->tick(s->context);
        if (told != WF_OK)
            return told;
        if (!chosen[i])
            continue;
        if (s->baselines[i].i_stretch != last)
            page_stretch_heading(p, s->baselines[i].i_stretch);
        last = s->baselines[i].i_stretch;
        WFI_TRY(append_baseline(p, &s->baselines[i], err));
    }
    return WF_OK;
}

static wf_status append(page *p, wf_error *err)
{
    bool *chosen = NULL;
    size_t n = 0;
    WFI_TRY(choice_of_baselines(&chosen, &n, p->survey, p->all, err));
    html_element(&p->body, "p", "note",
                 "Residual delay and rate are those of the first station minus those of the "
                 "second, true minus model; the phase is that in the middle of band and stretch. "
                 "False alarm: how often noise alone reaches this SNR.");
    if (n < p->survey->n_baselines)
        html_element(&p->body, "p", "note",
                     "Pictures of %zu of %zu baselines and stretches: of every stretch and station "
                     "the strongest and the weakest. --all draws every one; the numbers of all are "
                     "in summary.txt.",
                     n, p->survey->n_baselines);
    const wf_status status = n > 0 ? append_chosen(p, chosen, err) : WF_OK;
    choice_release(chosen);
    return status;
}

const section section_baselines = {"baselines", "Fringes and spectra", append};
