/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a report says of the stability of phases, as JSON. */
#include <math.h>

#include "report/summary_json.h"

static const double DEG_PER_RAD = 57.29577951308232088;
static const double LEVEL = 0.9;

static void append_coherence(json *out, const wf_coherence *c)
{
    json_number(out, "snr_of_average", c->snr);
    json_number(out, "coherence_time_s", wf_coherence_time_s(c, LEVEL));
    json_open(out, "coherence", '[');
    for (size_t k = 0; k < c->n_points; k++) {
        json_open(out, NULL, '{');
        json_number(out, "time_s", c->points[k].time_s);
        json_number(out, "coherence", c->points[k].coherence);
        json_number(out, "error", c->points[k].error);
        json_close(out);
    }
    json_close(out);
}

static void append_allan(json *out, const wf_allan *allan)
{
    json_open(out, "allan_deviation", '[');
    for (size_t k = 0; allan != NULL && k < allan->n_points; k++) {
        const wf_allan_point *p = &allan->points[k];
        json_open(out, NULL, '{');
        json_number(out, "tau_s", p->tau_s);
        json_number(out, "deviation", p->deviation);
        json_number(out, "low", p->low);
        json_number(out, "high", p->high);
        json_number(out, "thermal", p->thermal);
        json_close(out);
    }
    json_close(out);
}

static void append_baseline(json *out, const survey *s, const survey_baseline *b)
{
    json_open(out, NULL, '{');
    json_text(out, "first_station", s->info->station_names[b->i_station]);
    json_text(out, "second_station", s->info->station_names[b->j_station]);
    json_number(out, "average_s", b->stability.interval_s);
    json_number(out, "expected_wrong_turns", b->stability.expected_slips);
    append_coherence(out, b->stability.coherence);
    append_allan(out, b->stability.allan);
    json_close(out);
}

static void append_stations(json *out, const survey *s, const survey_stretch_stability *st)
{
    json_open(out, "stations", '[');
    for (size_t i = 0; st->allan != NULL && i < s->info->n_stations; i++) {
        json_open(out, NULL, '{');
        json_text(out, "station", s->info->station_names[i]);
        json_open(out, "allan_deviation", '[');
        for (size_t k = 0; k < st->n_points; k++) {
            const wf_allan_station_point *p = &st->allan[i * st->n_points + k];
            if (!p->solved)
                continue;
            json_open(out, NULL, '{');
            json_number(out, "tau_s", p->tau_s);
            json_number(out, "deviation", p->deviation);
            json_number(out, "variance", p->variance);
            json_number(out, "variance_error", p->variance_error);
            json_close(out);
        }
        json_close(out);
        json_close(out);
    }
    json_close(out);
}

/* The station that accounts for it, or the baseline that shows it best. */
static void append_place(json *out, const survey *s, bool assigned, size_t i, size_t j)
{
    json_text(out, "station", assigned ? s->info->station_names[i] : NULL);
    json_text(out, "first_station", assigned ? NULL : s->info->station_names[i]);
    json_text(out, "second_station", assigned ? NULL : s->info->station_names[j]);
}

static void append_event(json *out, const survey *s, const wf_stretch *stretch,
                         const wf_station_event *e)
{
    static const char *const kinds[] = {
        [WF_PHASE_JUMP] = "jump", [WF_PHASE_SLIP] = "slip", [WF_PHASE_RATE_CHANGE] = "rate change"};
    const bool is_rate = e->event.kind == WF_PHASE_RATE_CHANGE;
    json_open(out, NULL, '{');
    append_place(out, s, e->assigned, e->i_station, e->j_station);
    json_text(out, "kind", kinds[e->event.kind]);
    summary_json_time(out, "time_utc", wf_instant_add(stretch->start, e->event.time_s));
    json_number(out, "time_error_s", e->event.time_error_s);
    json_number(out, is_rate ? "size_deg_per_s" : "size_deg", DEG_PER_RAD * e->event.size);
    json_number(out, is_rate ? "error_deg_per_s" : "error_deg", DEG_PER_RAD * e->event.error);
    json_count(out, "turns", e->event.turns);
    json_number(out, "false_alarm_probability", e->event.false_alarm);
    json_close(out);
}

static void append_line(json *out, const survey *s, const wf_station_line *l)
{
    json_open(out, NULL, '{');
    append_place(out, s, l->assigned, l->i_station, l->j_station);
    json_number(out, "frequency_hz", l->line.frequency_hz);
    json_number(out, "frequency_error_hz", l->line.frequency_error_hz);
    json_number(out, "amplitude_deg", DEG_PER_RAD * l->line.amplitude_rad);
    json_number(out, "amplitude_error_deg", DEG_PER_RAD * l->line.amplitude_error_rad);
    json_number(out, "false_alarm_probability", l->line.false_alarm);
    json_close(out);
}

static void append_stretch(json *out, const survey *s, size_t i_stretch)
{
    const survey_stretch_stability *st = &s->stabilities[i_stretch];
    const wf_stretch *stretch = wf_stretches_get(s->stretches, i_stretch);
    json_open(out, NULL, '{');
    json_count(out, "stretch", (int64_t)i_stretch + 1);
    json_open(out, "baselines", '[');
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (s->baselines[i].i_stretch == i_stretch && s->baselines[i].stability.coherence != NULL)
            append_baseline(out, s, &s->baselines[i]);
    }
    json_close(out);
    append_stations(out, s, st);
    json_open(out, "events", '[');
    for (size_t i = 0; st->events != NULL && i < st->events->n_events; i++)
        append_event(out, s, stretch, &st->events->events[i]);
    json_close(out);
    json_open(out, "lines", '[');
    for (size_t i = 0; st->events != NULL && i < st->events->n_lines; i++)
        append_line(out, s, &st->events->lines[i]);
    json_close(out);
    json_close(out);
}

void summary_json_stability(json *out, const survey *s)
{
    json_open(out, "stability", '[');
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++)
        append_stretch(out, s, i);
    json_close(out);
}
