/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A report as one JSON object. */
#include <math.h>

#include "report/summary.h"
#include "report/summary_json.h"

static const double DEG_PER_RAD = 57.29577951308232088;

static void append_json_row(json *out, const survey *s, const report_row *row)
{
    const wf_stretch *stretch = wf_stretches_get(s->stretches, row->i_stretch);
    const wf_fringe_peak *p = &row->peak;
    const double none = row->measured ? 0 : NAN;
    json_open(out, NULL, '{');
    json_count(out, "stretch", (int64_t)row->i_stretch + 1);
    json_text(out, "source", s->info->source_names[stretch->i_source]);
    json_text(out, "first_station", s->info->station_names[row->i_station]);
    json_text(out, "second_station", s->info->station_names[row->j_station]);
    json_count(out, "band", (int64_t)row->i_band + 1);
    json_number(out, "middle_hz", survey_band_middle_hz(s, row->i_band));
    json_text(out, "product", survey_product(s, row->i_product));
    json_number(out, "valid_fraction", row->valid_fraction);
    json_number(out, "delay_s", none + p->delay_s);
    json_number(out, "delay_error_s", none + p->delay_error_s);
    json_number(out, "rate_s_per_s", none + p->rate_s_per_s);
    json_number(out, "rate_error_s_per_s", none + p->rate_error_s_per_s);
    json_number(out, "amplitude", none + p->amplitude);
    json_number(out, "phase_deg", none + DEG_PER_RAD * p->phase_rad);
    json_number(out, "phase_error_deg", none + DEG_PER_RAD / p->snr);
    json_number(out, "snr", none + p->snr);
    json_number(out, "false_alarm_probability", none + p->false_alarm);
    json_bool(out, "found", report_row_found(row));
    json_close(out);
}

static void append_json_stretches(json *out, const survey *s)
{
    json_open(out, "stretches", '[');
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++) {
        const wf_stretch *stretch = wf_stretches_get(s->stretches, i);
        json_open(out, NULL, '{');
        json_count(out, "stretch", (int64_t)i + 1);
        json_text(out, "source", s->info->source_names[stretch->i_source]);
        summary_json_time(out, "start_utc", stretch->start);
        json_count(out, "integrations", (int64_t)stretch->n_times);
        json_number(out, "integration_s", stretch->interval_s);
        json_close(out);
    }
    json_close(out);
}

void report_append_json(json *out, const survey *s, char *const *pictures, size_t n_pictures)
{
    json_open(out, NULL, '{');
    json_text(out, "file", s->file);
    json_text(out, "campaign", s->info->campaign);
    append_json_stretches(out, s);
    json_open(out, "fringes", '[');
    for (size_t i = 0; i < s->n_rows; i++)
        append_json_row(out, s, &s->rows[i]);
    json_close(out);
    summary_json_fits(out, s);
    summary_json_solutions(out, s);
    summary_json_stability(out, s);
    summary_json_stations(out, s);
    json_open(out, "pictures", '[');
    for (size_t i = 0; i < n_pictures; i++)
        json_text(out, NULL, pictures[i]);
    json_close(out);
    json_close(out);
}
