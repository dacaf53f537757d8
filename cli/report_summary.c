/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringes of a report as a table of text and as JSON. */
#include <math.h>
#include <whitefringe/time.h>

#include "plot.h"
#include "report_row.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { TIME_DIGITS = 6 };

static double middle_mhz(const wf_fits_idi_info *info, size_t i_band)
{
    return 1e-6 * (info->band_first_hz[i_band] +
                   0.5 * (double)(info->n_channels - 1) * info->channel_width_hz);
}

static const char *product_of(const report *r, const report_row *row)
{
    return plot_product_name(r->info->first_product_code - (int)row->i_product);
}

static void append_stretch(wfi_text *out, const report *r, size_t i_stretch)
{
    const wf_stretch *stretch = wf_stretches_get(r->stretches, i_stretch);
    char span[PLOT_SPAN_BYTES];
    plot_format_span(span, stretch);
    wfi_text_append(out, "\nstretch %zu  %s  %s  (%zu integrations of %.6g s)\n", i_stretch + 1,
                    r->info->source_names[stretch->i_source], span, stretch->n_times,
                    stretch->interval_s);
    wfi_text_append(out, "  %-17s  %4s  %11s  %-7s  %7s  %24s  %24s  %10s  %15s  %8s  %11s\n",
                    "baseline", "band", "middle/MHz", "product", "valid/%", "delay/ns",
                    "rate/(ps/s)", "amplitude", "phase/deg", "SNR", "false alarm");
}

/* Value and error as "v ± e"; the sign is two bytes wide, the field 24 characters. */
static void append_pair(wfi_text *out, double value, double error)
{
    if (isfinite(error))
        wfi_text_append(out, "  %13.5f ± %8.5f", value, error);
    else
        wfi_text_append(out, "  %24s", "not measured");
}

static void append_row(wfi_text *out, const report *r, const report_row *row)
{
    const wf_fringe_peak *p = &row->peak;
    wfi_text_append(out, "  %-8s %-8s  %4zu  %11.3f  %-7s  %7.3f",
                    r->info->station_names[row->i_station], r->info->station_names[row->j_station],
                    row->i_band + 1, middle_mhz(r->info, row->i_band), product_of(r, row),
                    100 * row->valid_fraction);
    if (!row->measured) {
        wfi_text_append(out, "  too little is valid for a fringe\n");
        return;
    }
    append_pair(out, 1e9 * p->delay_s, 1e9 * p->delay_error_s);
    append_pair(out, 1e12 * p->rate_s_per_s, 1e12 * p->rate_error_s_per_s);
    wfi_text_append(out, "  %10.4g  %7.2f ± %5.2f  %8.1f  %11.1e%s\n", p->amplitude,
                    DEG_PER_RAD * p->phase_rad, DEG_PER_RAD / p->snr, p->snr, p->false_alarm,
                    report_row_found(row) ? "" : "  no fringe");
}

void report_append_text(wfi_text *out, const report *r)
{
    wfi_text_append(out,
                    "%s, campaign %s\n\n"
                    "Residual delay and rate are those of the first station minus those of the "
                    "second, true minus model;\nthe phase is that in the middle of band and "
                    "stretch. False alarm: how often noise alone reaches this SNR.\n",
                    r->file, r->info->campaign);
    for (size_t i = 0; i < r->n_rows; i++) {
        if (i == 0 || r->rows[i].i_stretch != r->rows[i - 1].i_stretch)
            append_stretch(out, r, r->rows[i].i_stretch);
        append_row(out, r, &r->rows[i]);
    }
}

static void append_json_row(json *out, const report *r, const report_row *row)
{
    const wf_stretch *stretch = wf_stretches_get(r->stretches, row->i_stretch);
    const wf_fringe_peak *p = &row->peak;
    const double none = row->measured ? 0 : NAN;
    json_open(out, NULL, '{');
    json_count(out, "stretch", (int64_t)row->i_stretch + 1);
    json_text(out, "source", r->info->source_names[stretch->i_source]);
    json_text(out, "first_station", r->info->station_names[row->i_station]);
    json_text(out, "second_station", r->info->station_names[row->j_station]);
    json_count(out, "band", (int64_t)row->i_band + 1);
    json_number(out, "middle_hz", 1e6 * middle_mhz(r->info, row->i_band));
    json_text(out, "product", product_of(r, row));
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

static void append_json_stretches(json *out, const report *r)
{
    json_open(out, "stretches", '[');
    for (size_t i = 0; i < wf_stretches_n(r->stretches); i++) {
        const wf_stretch *stretch = wf_stretches_get(r->stretches, i);
        char start[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(start, wf_instant_add(stretch->start, 0.5e-6), TIME_DIGITS);
        json_open(out, NULL, '{');
        json_count(out, "stretch", (int64_t)i + 1);
        json_text(out, "source", r->info->source_names[stretch->i_source]);
        json_text(out, "start_utc", start);
        json_count(out, "integrations", (int64_t)stretch->n_times);
        json_number(out, "integration_s", stretch->interval_s);
        json_close(out);
    }
    json_close(out);
}

void report_append_json(json *out, const report *r)
{
    json_open(out, NULL, '{');
    json_text(out, "file", r->file);
    json_text(out, "campaign", r->info->campaign);
    append_json_stretches(out, r);
    json_open(out, "fringes", '[');
    for (size_t i = 0; i < r->n_rows; i++)
        append_json_row(out, r, &r->rows[i]);
    json_close(out);
    json_open(out, "pictures", '[');
    for (size_t i = 0; i < r->n_pictures; i++)
        json_text(out, NULL, r->pictures[i]);
    json_close(out);
    json_close(out);
}
