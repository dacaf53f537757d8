/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a report says of stations and of all bands together, as JSON. */
#include <math.h>
#include <whitefringe/time.h>

#include "report/summary_json.h"
#include "report/verdict.h"

static const double DEG_PER_RAD = 57.29577951308232088;

void summary_json_time(json *out, const char *key, wf_instant t)
{
    enum { DIGITS = 6 };
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, wf_instant_add(t, 0.5e-6), DIGITS);
    json_text(out, key, text);
}

static void append_clocks(json *out, const survey *s, size_t i_station)
{
    json_open(out, "clocks", '[');
    for (size_t i = 0; i < s->notes->n_clocks; i++) {
        const wf_fits_idi_clock *clock = &s->notes->clocks[i];
        if (clock->i_station != i_station)
            continue;
        json_open(out, NULL, '{');
        summary_json_time(out, "time_utc", clock->time);
        json_text(out, "source", s->info->source_names[clock->i_source]);
        json_number(out, "ahead_s", clock->ahead_s);
        json_number(out, "rate_s_per_s", clock->rate_s_per_s);
        json_close(out);
    }
    json_close(out);
}

static void append_station(json *out, const survey *s, size_t i_station)
{
    const verdict v = verdict_of(s, i_station);
    const double none = v.n_found > 0 ? 0 : NAN;
    json_open(out, NULL, '{');
    json_text(out, "station", s->info->station_names[i_station]);
    json_text(out, "verdict", v.words);
    json_open(out, "doubts", '[');
    for (size_t i = 0; i < v.n_doubts; i++)
        json_text(out, NULL, v.doubts[i]);
    json_close(out);
    json_count(out, "baselines", (int64_t)v.n_baselines);
    json_count(out, "baselines_with_fringes", (int64_t)v.n_found);
    json_number(out, "lowest_snr", none + v.snr_low);
    json_number(out, "highest_snr", none + v.snr_high);
    json_number(out, "valid_fraction", v.valid_fraction);
    json_count(out, "flags", (int64_t)s->notes->n_flags[i_station]);
    append_clocks(out, s, i_station);
    json_close(out);
}

void summary_json_stations(json *out, const survey *s)
{
    json_open(out, "stations", '[');
    for (size_t i = 0; i < s->info->n_stations; i++)
        append_station(out, s, i);
    json_close(out);
}

static void append_fit(json *out, const survey *s, const survey_baseline *b, const survey_fit *f)
{
    const wf_fringe_fit *fit = &f->fit;
    const double none = f->measured ? 0 : NAN;
    const double no_multi_band = f->measured && !f->free_phases ? 0 : NAN;
    json_open(out, NULL, '{');
    json_count(out, "stretch", (int64_t)b->i_stretch + 1);
    json_text(out, "first_station", s->info->station_names[b->i_station]);
    json_text(out, "second_station", s->info->station_names[b->j_station]);
    json_text(out, "product", survey_product(s, f->i_product));
    json_bool(out, "bands_line_up", f->measured && !f->free_phases);
    json_number(out, "multi_band_delay_s", no_multi_band + fit->delay_s);
    json_number(out, "multi_band_delay_error_s", no_multi_band + fit->delay_error_s);
    json_number(out, "delay_ambiguity_s", no_multi_band + fit->delay_ambiguity_s);
    json_number(out, "single_band_delay_s", none + fit->single_band_delay_s);
    json_number(out, "single_band_delay_error_s", none + fit->single_band_delay_error_s);
    json_number(out, "rate_s_per_s", none + fit->rate_s_per_s);
    json_number(out, "rate_error_s_per_s", none + fit->rate_error_s_per_s);
    json_number(out, "amplitude", none + fit->amplitude);
    json_number(out, "phase_deg", no_multi_band + DEG_PER_RAD * fit->phase_rad);
    json_number(out, "phase_error_deg", no_multi_band + DEG_PER_RAD * fit->phase_error_rad);
    json_number(out, "reference_hz", none + fit->reference_hz);
    json_number(out, "band_coherence", none + fit->band_coherence);
    json_number(out, "snr", none + fit->snr);
    json_number(out, "false_alarm_probability", none + fit->false_alarm);
    json_bool(out, "found", survey_fit_found(f));
    json_close(out);
}

void summary_json_fits(json *out, const survey *s)
{
    json_open(out, "fits", '[');
    for (size_t i = 0; i < s->n_baselines; i++) {
        for (size_t p = 0; p < s->info->n_products; p++)
            append_fit(out, s, &s->baselines[i], &survey_fits(s, &s->baselines[i])[p]);
    }
    json_close(out);
}

static void append_value(json *out, const char *key, const char *error_key,
                         const wf_station_value *v, bool is_reference)
{
    const double none = v->solved || is_reference ? 0 : NAN;
    json_number(out, key, none + v->value);
    json_number(out, error_key, none + v->error);
}

static void append_closures(json *out, const survey *s, const char *key, const char *value_key,
                            const char *error_key, const wf_closure *closures, size_t n,
                            double factor)
{
    json_open(out, key, '[');
    for (size_t i = 0; i < n; i++) {
        const wf_closure *c = &closures[i];
        json_open(out, NULL, '{');
        json_text(out, "first_station", s->info->station_names[c->i_station]);
        json_text(out, "second_station", s->info->station_names[c->j_station]);
        json_text(out, "third_station", s->info->station_names[c->k_station]);
        json_number(out, value_key, factor * c->value);
        json_number(out, error_key, factor * c->error);
        json_close(out);
    }
    json_close(out);
}

static void append_solution(json *out, const survey *s, size_t i_stretch)
{
    const survey_solution *solution = &s->solutions[i_stretch];
    json_open(out, NULL, '{');
    json_count(out, "stretch", (int64_t)i_stretch + 1);
    json_text(out, "product", survey_product(s, solution->i_product));
    json_text(out, "reference_station", s->info->station_names[solution->i_reference]);
    json_text(out, "delays", solution->multi_band ? "multi-band" : "single-band");
    json_count(out, "band_of_phases", (int64_t)solution->i_band + 1);
    json_bool(out, "phases_of_all_bands", !solution->phases_of_one_band);
    json_number(out, "delay_reduced_chi2", solution->delay_chi2);
    json_number(out, "rate_reduced_chi2", solution->rate_chi2);
    json_count(out, "excluded_delays", (int64_t)solution->n_excluded);
    json_open(out, "stations", '[');
    for (size_t k = 0; k < s->info->n_stations; k++) {
        const bool is_reference = k == solution->i_reference;
        json_open(out, NULL, '{');
        json_text(out, "station", s->info->station_names[k]);
        append_value(out, "delay_s", "delay_error_s", &solution->delay[k], is_reference);
        append_value(out, "rate_s_per_s", "rate_error_s_per_s", &solution->rate[k], is_reference);
        json_count(out, "baselines", (int64_t)solution->delay[k].n_used);
        json_close(out);
    }
    json_close(out);
    json_count(out, "triangles", (int64_t)solution->n_triangles);
    append_closures(out, s, "closure_delays", "delay_s", "delay_error_s", solution->delay_closures,
                    solution->n_delay_closures, 1);
    append_closures(out, s, "closure_phases", "phase_deg", "phase_error_deg",
                    solution->phase_closures, solution->n_phase_closures, DEG_PER_RAD);
    json_close(out);
}

void summary_json_solutions(json *out, const survey *s)
{
    json_open(out, "station_solutions", '[');
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++) {
        if (s->solutions[i].solved)
            append_solution(out, s, i);
    }
    json_close(out);
}
