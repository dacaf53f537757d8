/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How stable each recording was: coherence, Allan deviations, events of the phase. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "measure.h"
#include "report/page.h"
#include "report/stability_figures.h"

/* Stretches that are drawn, the longest first; baselines and events in a table. */
enum { STRETCHES_MAX = 3, BASELINES_MAX = 60, EVENTS_MAX = 60 };
static const double DEG_PER_RAD = 57.29577951308232088;
static const double LEVELS[] = {0.9, 0.606530659712633}; /* a tenth lost; 1 rad rms */

static bool is_measured(const survey *s, size_t i_stretch)
{
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (s->baselines[i].i_stretch == i_stretch && s->baselines[i].stability.coherence != NULL)
            return true;
    }
    return false;
}

/* Stretches that are longer, of those measured. */
static size_t n_longer(const survey *s, size_t i_stretch)
{
    const wf_stretch *mine = wf_stretches_get(s->stretches, i_stretch);
    size_t n = 0;
    for (size_t k = 0; k < wf_stretches_n(s->stretches); k++) {
        const wf_stretch *other = wf_stretches_get(s->stretches, k);
        n += is_measured(s, k) &&
             (other->n_times > mine->n_times || (other->n_times == mine->n_times && k < i_stretch));
    }
    return n;
}

static wf_status append_figure(page *p, size_t i_stretch, const char *what, const char *title,
                               const char *caption, void (*draw)(figure *, const survey *, size_t),
                               wf_error *err)
{
    char name[PAGE_NAME_BYTES];
    char whole[96];
    figure f = {0};
    page_name(name, p->survey, i_stretch, PAGE_NO_STATION, PAGE_NO_STATION, what);
    snprintf(whole, sizeof whole, "%s, stretch %zu", title, i_stretch + 1);
    draw(&f, p->survey, i_stretch);
    return page_figure(p, &f, &(figure_words){name, whole, caption}, err);
}

static bool any_allan(const survey *s, size_t i_stretch)
{
    bool any = false;
    for (size_t i = 0; i < s->n_baselines; i++)
        any = any ||
              (s->baselines[i].i_stretch == i_stretch && s->baselines[i].stability.allan != NULL);
    return any;
}

static bool any_station(const survey_stretch_stability *st, size_t n_stations)
{
    bool any = false;
    for (size_t k = 0; k < n_stations * st->n_points; k++)
        any = any || (st->allan[k].solved && st->allan[k].deviation > 0);
    return any;
}

static wf_status append_figures(page *p, size_t i_stretch, wf_error *err)
{
    const survey *s = p->survey;
    page_figures_begin(p);
    WFI_TRY(append_figure(p, i_stretch, "coherence", "Coherence against integration time",
                          "What part of the amplitude is left when so long is integrated, thermal "
                          "noise taken out; dotted: 0.9.",
                          coherence_figure, err));
    if (any_allan(s, i_stretch))
        WFI_TRY(append_figure(p, i_stretch, "allan", "Allan deviation of baselines",
                              "Of the fringe's phase, noise included, against two hydrogen masers "
                              "and two mean atmospheres (common practice; weather is a factor of "
                              "3 either way).",
                              allan_figure, err));
    if (any_station(&s->stabilities[i_stretch], s->info->n_stations))
        WFI_TRY(append_figure(p, i_stretch, "allan_stations", "Allan deviation of stations",
                              "Separated from the baselines, beyond thermal noise, against one "
                              "maser and one mean atmosphere at the zenith.",
                              station_allan_figure, err));
    page_figures_end(p);
    return WF_OK;
}

static void append_time(wfi_text *out, double time_s, double longest_s)
{
    if (isfinite(time_s))
        html_number(out, "%.3g s", time_s);
    else
        html_number(out, "> %.3g s", longest_s);
}

static void append_baseline(wfi_text *out, const survey *s, const survey_baseline *b)
{
    const wf_coherence *c = b->stability.coherence;
    const wf_coherence_point *last = &c->points[c->n_points - 1];
    char text[MEASURE_BYTES];
    char pair[SURVEY_PAIR_BYTES];
    survey_pair(pair, s, b->i_station, b->j_station);
    html_row_begin(out);
    html_row_head(out, "%s", pair);
    html_number(out, "%.1f", c->snr);
    html_number(out, "%.3g s", b->stability.interval_s);
    measure_format_plain(text, last->coherence, last->error);
    html_number(out, "%s", text);
    html_number(out, "%.3g s", last->time_s);
    for (size_t k = 0; k < sizeof LEVELS / sizeof LEVELS[0]; k++)
        append_time(out, wf_coherence_time_s(c, LEVELS[k]), last->time_s);
    html_number(out, "%s", b->stability.expected_slips > 0.01 ? "may have wrong turns" : "sure");
    html_row_end(out);
}

static void append_baselines(wfi_text *out, const survey *s, size_t i_stretch, bool all)
{
    size_t n = 0;
    html_table_begin(out, "Coherence of the baselines",
                     "baseline|#SNR of an average|#average|#coherence|#over|#coherence time to "
                     "0.9|#to 0.61|#turns of the phase");
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (s->baselines[i].i_stretch == i_stretch && s->baselines[i].stability.coherence != NULL &&
            (all || n++ < BASELINES_MAX))
            append_baseline(out, s, &s->baselines[i]);
    }
    html_table_end(out);
    if (n > BASELINES_MAX)
        html_element(out, "p", "note", "The first %d of %zu; --all writes all.", BASELINES_MAX, n);
}

static void append_place(wfi_text *out, const survey *s, bool assigned, size_t i, size_t j)
{
    char pair[SURVEY_PAIR_BYTES];
    survey_pair(pair, s, i, j);
    html_row_begin(out);
    html_row_head(out, "%s", assigned ? s->info->station_names[i] : pair);
}

static void append_event(wfi_text *out, const survey *s, const wf_stretch *stretch,
                         const wf_station_event *e)
{
    char time[WF_INSTANT_TEXT_BYTES];
    char size[MEASURE_BYTES];
    append_place(out, s, e->assigned, e->i_station, e->j_station);
    wf_instant_format(time, wf_instant_add(stretch->start, e->event.time_s + 0.05), 1);
    html_cell(out, "%.10s %s", time, time + 11);
    measure_format_fixed(size, DEG_PER_RAD * e->event.size, DEG_PER_RAD * e->event.error, 1);
    if (e->event.kind == WF_PHASE_SLIP)
        html_cell(out, "slip of %d turn%s", e->event.turns,
                  e->event.turns == 1 || e->event.turns == -1 ? "" : "s");
    else if (e->event.kind == WF_PHASE_JUMP)
        html_cell(out, "jump of %s°", size);
    else
        html_cell(out, "rate changes by %s°/s", size);
    measure_format_probability(size, e->event.false_alarm);
    html_number(out, "%s", size);
    html_row_end(out);
}

static void append_line(wfi_text *out, const survey *s, const wf_station_line *l)
{
    char amplitude[MEASURE_BYTES];
    append_place(out, s, l->assigned, l->i_station, l->j_station);
    html_cell(out, "throughout");
    measure_format_fixed(amplitude, DEG_PER_RAD * l->line.amplitude_rad,
                         DEG_PER_RAD * l->line.amplitude_error_rad, 2);
    html_cell(out, "swings at %.4g Hz by %s°", l->line.frequency_hz, amplitude);
    measure_format_probability(amplitude, l->line.false_alarm);
    html_number(out, "%s", amplitude);
    html_row_end(out);
}

static void append_events(wfi_text *out, const survey *s, size_t i_stretch)
{
    const wf_station_events *events = s->stabilities[i_stretch].events;
    const wf_stretch *stretch = wf_stretches_get(s->stretches, i_stretch);
    if (events == NULL)
        return;
    if (events->n_events + events->n_lines == 0) {
        html_element(out, "p", NULL,
                     "No jumps, slips, changes of rate or steady swings of the "
                     "phase were found.");
        return;
    }
    html_table_begin(out, "Events of the phase; a single name: the station that accounts for it",
                     "where|at (UTC)|what|#false alarm, at most");
    for (size_t i = 0; i < events->n_events && i < EVENTS_MAX; i++)
        append_event(out, s, stretch, &events->events[i]);
    for (size_t i = 0; i < events->n_lines && i < EVENTS_MAX; i++)
        append_line(out, s, &events->lines[i]);
    html_table_end(out);
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    bool any = false;
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++) {
        if (!is_measured(s, i) || (!p->all && n_longer(s, i) >= STRETCHES_MAX))
            continue;
        if (!any)
            html_element(&p->body, "p", "note",
                         "From the phase of each baseline's strongest fringe in time. Stretches of "
                         "16 integrations and more; weak fringes are averaged until they show.");
        any = true;
        page_stretch_heading(p, i);
        WFI_TRY(append_figures(p, i, err));
        append_baselines(&p->body, s, i, p->all);
        append_events(&p->body, s, i);
    }
    return WF_OK;
}

const section section_stability = {"stability", "Stability", append};
