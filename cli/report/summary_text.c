/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringes of a report as a table of text. */
#include <math.h>

#include "plot.h"
#include "report/summary.h"

static const double DEG_PER_RAD = 57.29577951308232088;

static void append_stretch(wfi_text *out, const survey *s, size_t i_stretch)
{
    const wf_stretch *stretch = wf_stretches_get(s->stretches, i_stretch);
    char span[PLOT_SPAN_BYTES];
    plot_format_span(span, stretch);
    wfi_text_append(out, "\nstretch %zu  %s  %s  (%zu integrations of %.6g s)\n", i_stretch + 1,
                    s->info->source_names[stretch->i_source], span, stretch->n_times,
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

static void append_row(wfi_text *out, const survey *s, const report_row *row)
{
    const wf_fringe_peak *p = &row->peak;
    wfi_text_append(out, "  %-8s %-8s  %4zu  %11.3f  %-7s  %7.3f",
                    s->info->station_names[row->i_station], s->info->station_names[row->j_station],
                    row->i_band + 1, 1e-6 * survey_band_middle_hz(s, row->i_band),
                    survey_product(s, row->i_product), 100 * row->valid_fraction);
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

void report_append_text(wfi_text *out, const survey *s)
{
    wfi_text_append(out,
                    "%s, campaign %s\n\n"
                    "Residual delay and rate are those of the first station minus those of the "
                    "second, true minus model;\nthe phase is that in the middle of band and "
                    "stretch. False alarm: how often noise alone reaches this SNR.\n",
                    s->file, s->info->campaign);
    for (size_t i = 0; i < s->n_rows; i++) {
        if (i == 0 || s->rows[i].i_stretch != s->rows[i - 1].i_stretch)
            append_stretch(out, s, s->rows[i].i_stretch);
        append_row(out, s, &s->rows[i]);
    }
}
