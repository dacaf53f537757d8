/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Delay and rate of each station from all baselines at once, and the closures. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "measure.h"
#include "report/closure_figure.h"
#include "report/closures.h"
#include "report/page.h"

/* Stretches that are written out, triangles of a table. */
enum { STRETCHES_MAX = 8, TRIANGLES_MAX = 20 };
static const double DEG_PER_RAD = 57.29577951308232088;

static void append_value(wfi_text *out, const wf_station_value *v, bool is_reference,
                         const char *unit)
{
    char text[MEASURE_BYTES];
    if (is_reference) {
        html_number(out, "0 (reference)");
    } else if (!v->solved) {
        html_number(out, "not solved");
    } else {
        measure_format(text, v->value, v->error, unit);
        html_number(out, "%s", text);
    }
}

/* The clock that would take the residual away: what the model counted, and the residual. */
static void append_clock(wfi_text *out, const survey *s, size_t i_stretch, size_t i_station)
{
    const wf_stretch *stretch = wf_stretches_get(s->stretches, i_stretch);
    const wf_station_value *v = &s->solutions[i_stretch].delay[i_station];
    const wf_fits_idi_clock *clock = NULL;
    char text[MEASURE_BYTES];
    for (size_t i = 0; i < s->notes->n_clocks && clock == NULL; i++) {
        if (s->notes->clocks[i].i_station == i_station)
            clock = &s->notes->clocks[i];
    }
    if (clock == NULL || (!v->solved && i_station != s->solutions[i_stretch].i_reference)) {
        html_number(out, "–");
        return;
    }
    const wf_instant middle =
        wf_instant_add(stretch->start, 0.5 * stretch->interval_s * (double)stretch->n_times);
    const double t_s = wf_instant_difference_s(middle, clock->time);
    measure_format(text, clock->ahead_s + clock->rate_s_per_s * t_s + v->value, v->error, "s");
    html_number(out, "%s", text);
}

static void append_stations(wfi_text *out, const survey *s, size_t i_stretch)
{
    const survey_solution *solution = &s->solutions[i_stretch];
    char caption[160];
    snprintf(caption, sizeof caption, "%s, %s delays; reference %s",
             survey_product(s, solution->i_product),
             solution->multi_band ? "multi-band" : "single-band",
             s->info->station_names[solution->i_reference]);
    html_table_begin(out, caption,
                     "station|#delay|#rate|#baselines used|#clock that fits, ahead by");
    for (size_t k = 0; k < s->info->n_stations; k++) {
        const bool is_reference = k == solution->i_reference;
        if (s->info->station_names[k][0] == '\0')
            continue;
        html_row_begin(out);
        html_row_head(out, "%s", s->info->station_names[k]);
        append_value(out, &solution->delay[k], is_reference, "s");
        append_value(out, &solution->rate[k], is_reference, "s/s");
        html_number(out, "%zu", solution->delay[k].n_used);
        append_clock(out, s, i_stretch, k);
        html_row_end(out);
    }
    html_table_end(out);
}

static void append_agreement(wfi_text *out, const survey_solution *solution)
{
    if (isfinite(solution->delay_chi2) && isfinite(solution->rate_chi2))
        html_element(out, "p", NULL,
                     "Residuals over their errors, mean square a degree of freedom: delays %.3g, "
                     "rates %.3g (1 is what noise alone gives).",
                     solution->delay_chi2, solution->rate_chi2);
    if (solution->n_excluded > 0)
        html_element(out, "p", NULL,
                     "%zu delays that the others contradict were left out of the solution.",
                     solution->n_excluded);
}

static double sigmas(const wf_closure *c)
{
    return fabs(c->value) / c->error;
}

/* How many stand farther from zero; ties by order. */
static size_t n_worse(const survey_solution *solution, size_t i)
{
    size_t n = 0;
    const double mine = sigmas(&solution->phase_closures[i]);
    for (size_t k = 0; k < solution->n_phase_closures; k++) {
        const double other = sigmas(&solution->phase_closures[k]);
        n += other > mine || (k < i && other >= mine);
    }
    return n;
}

static void append_triangle(wfi_text *out, const survey *s, const survey_solution *solution,
                            const wf_closure *c)
{
    const wf_closure *delay =
        closures_find(solution->delay_closures, solution->n_delay_closures, c);
    char text[MEASURE_BYTES];
    html_row_begin(out);
    html_row_head(out, "%s – %s – %s", s->info->station_names[c->i_station],
                  s->info->station_names[c->j_station], s->info->station_names[c->k_station]);
    measure_format_fixed(text, DEG_PER_RAD * c->value, DEG_PER_RAD * c->error, 2);
    html_number(out, "%s", text);
    html_number(out, "%.1f σ", sigmas(c));
    if (delay != NULL) {
        measure_format(text, delay->value, delay->error, "s");
        html_number(out, "%s", text);
        html_number(out, "%.1f σ", sigmas(delay));
    } else {
        html_number(out, "–");
        html_number(out, "–");
    }
    html_row_end(out);
}

static void append_triangles(wfi_text *out, const survey *s, const survey_solution *solution)
{
    char caption[128];
    snprintf(caption, sizeof caption, "Closures, phases %s the middle of band %zu%s",
             solution->phases_of_one_band ? "in" : "of all bands in", solution->i_band + 1,
             solution->n_phase_closures > TRIANGLES_MAX ? "; those farthest from zero" : "");
    html_table_begin(out, caption, "triangle|#phase / °|#from zero|#delay|#from zero");
    for (size_t i = 0; i < solution->n_phase_closures; i++) {
        if (solution->n_phase_closures <= TRIANGLES_MAX || n_worse(solution, i) < TRIANGLES_MAX)
            append_triangle(out, s, solution, &solution->phase_closures[i]);
    }
    html_table_end(out);
    if (solution->n_triangles > solution->n_phase_closures)
        html_element(out, "p", "note", "Of %zu triangles the %zu farthest from zero are shown.",
                     solution->n_triangles, solution->n_phase_closures);
}

static wf_status append_closures(page *p, size_t i_stretch, wf_error *err)
{
    const survey_solution *solution = &p->survey->solutions[i_stretch];
    char name[PAGE_NAME_BYTES];
    char title[64];
    figure f = {0};
    if (solution->n_phase_closures == 0)
        return WF_OK;
    page_name(name, p->survey, i_stretch, PAGE_NO_STATION, PAGE_NO_STATION, "closures");
    snprintf(title, sizeof title, "Closure phases and delays, stretch %zu", i_stretch + 1);
    closure_figure(&f, p->survey, i_stretch);
    page_figures_begin(p);
    WFI_TRY(page_figure(
        p, &f,
        &(figure_words){
            name, title,
            "Each triangle of baselines: phase and delay add up to "
            "zero, whatever the clocks, but for noise, wander within the stretch and the "
            "structure of the source. Bars: one standard deviation."},
        err));
    page_figures_end(p);
    append_triangles(&p->body, p->survey, solution);
    return WF_OK;
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    size_t n = 0;
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++) {
        if (!s->solutions[i].solved)
            continue;
        n++;
        if (!p->all && n > STRETCHES_MAX)
            continue;
        if (n == 1)
            html_element(&p->body, "p", "note",
                         "One delay and one rate of each station that fit all baselines, by least "
                         "squares; the reference's are held at zero. True minus model: a clock "
                         "that is farther ahead than the model says makes the delay positive.");
        page_stretch_heading(p, i);
        append_stations(&p->body, s, i);
        append_agreement(&p->body, &s->solutions[i]);
        WFI_TRY(append_closures(p, i, err));
    }
    if (!p->all && n > STRETCHES_MAX)
        html_element(&p->body, "p", "note",
                     "The first %d of %zu stretches with fringes; --all writes all, and "
                     "summary.json has them.",
                     STRETCHES_MAX, n);
    return WF_OK;
}

const section section_stations = {"stations", "Stations and closures", append};
