/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a search found, as JSON. */
#include <whitefringe/time.h>

#include "search_result.h"

enum { TIME_DIGITS = 9 };

static void append_instant(json *out, const char *key, wf_instant t)
{
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, wf_instant_add(t, 0.5e-9), TIME_DIGITS);
    json_text(out, key, text);
}

static void append_baseline(json *out, const search_report *r, const wf_search_baseline *b)
{
    const char product[] = {wf_polarization_letter(b->product.first),
                            wf_polarization_letter(b->product.second), '\0'};
    json_open(out, NULL, '{');
    json_text(out, "first_station", r->observation->stations[b->i_station].name);
    json_text(out, "second_station", r->observation->stations[b->j_station].name);
    json_bool(out, "found", b->found);
    json_text(out, "product", product);
    json_number(out, "snr", b->fit.snr);
    json_number(out, "false_alarm_probability", b->fit.false_alarm);
    json_number(out, "delay_s", b->fit.delay_s);
    json_number(out, "delay_error_s", b->fit.delay_error_s);
    json_number(out, "single_band_delay_s", b->fit.single_band_delay_s);
    json_number(out, "single_band_delay_error_s", b->fit.single_band_delay_error_s);
    json_number(out, "delay_ambiguity_s", b->fit.delay_ambiguity_s);
    json_number(out, "rate_s_per_s", b->fit.rate_s_per_s);
    json_number(out, "rate_error_s_per_s", b->fit.rate_error_s_per_s);
    json_number(out, "amplitude", b->fit.amplitude);
    json_number(out, "band_coherence", b->fit.band_coherence);
    json_number(out, "delay_residual_sigma", b->delay_residual_sigma);
    json_number(out, "rate_residual_sigma", b->rate_residual_sigma);
    json_close(out);
}

static void append_station(json *out, const search_report *r, size_t i)
{
    const wf_search_station *s = &r->result->stations[i];
    json_open(out, NULL, '{');
    json_text(out, "station", r->observation->stations[i].name);
    json_text(out, "verdict", search_verdict(r->result, i));
    json_bool(out, "recorded", s->recorded);
    json_bool(out, "found", s->found);
    json_count(out, "baselines", (int64_t)s->n_baselines);
    json_count(out, "fringes", (int64_t)s->n_fringes);
    json_number(out, "best_snr", s->best_snr);
    json_number(out, "strength", s->strength);
    if (s->found) {
        json_open(out, "clock", '{');
        append_instant(out, "reference_utc", s->clock.reference);
        json_number(out, "ahead_s", s->clock.ahead_s);
        json_number(out, "rate_s_per_s", s->clock.rate_s_per_s);
        json_close(out);
        json_number(out, "correction_s", s->correction_s);
        json_number(out, "correction_error_s", s->correction_error_s);
        json_number(out, "correction_s_per_s", s->correction_s_per_s);
        json_number(out, "correction_error_s_per_s", s->correction_error_s_per_s);
    }
    json_close(out);
}

void search_append_json(json *out, const search_report *r)
{
    const wf_search_result *result = r->result;
    json_open(out, NULL, '{');
    json_text(out, "job", r->job);
    json_text(out, "campaign", r->observation->campaign);
    json_text(out, "scan", r->observation->scans[result->i_scan].name);
    append_instant(out, "start_utc", result->start);
    json_number(out, "length_s", result->length_s);
    json_number(out, "window_delay_s", result->window_delay_s);
    json_number(out, "window_rate_s_per_s", result->window_rate_s_per_s);
    json_number(out, "false_alarm_limit", result->false_alarm);
    json_count(out, "steps", (int64_t)result->n_steps);
    json_number(out, "correlated_s", result->correlated_s);
    json_number(out, "elapsed_s", r->elapsed_s);
    json_bool(out, "all_found", result->all_found);
    json_text(out, "reference", r->observation->stations[result->i_reference].name);
    json_number(out, "delay_reduced_chi2", result->delay_chi2);
    json_number(out, "rate_reduced_chi2", result->rate_chi2);
    json_open(out, "stations", '[');
    for (size_t i = 0; i < result->n_stations; i++)
        append_station(out, r, i);
    json_close(out);
    json_open(out, "baselines", '[');
    for (size_t k = 0; k < result->n_baselines; k++)
        append_baseline(out, r, &result->baselines[k]);
    json_close(out);
    diagnosis_append_json(out, r);
    json_close(out);
}
