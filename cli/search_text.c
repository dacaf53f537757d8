/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a search found, as text. */
#include <math.h>
#include <whitefringe/time.h>

#include "measure.h"
#include "search_result.h"

enum { TIME_DIGITS = 3 };

const char *search_verdict(const wf_search_result *result, size_t i_station)
{
    const wf_search_station *s = &result->stations[i_station];
    if (!s->takes_part)
        return "not in this scan";
    if (!s->recorded)
        return "nothing recorded in this scan";
    if (!s->found)
        return "no fringes";
    if (s->is_mixed)
        return "fringes in all products alike: linear feeds against circular ones";
    if (s->is_crossed)
        return "fringes in the crossed products: its polarizations are swapped";
    return i_station == result->i_reference ? "fringes; the reference, its clock is held"
                                            : "fringes";
}

void search_append_missing(wfi_text *out, const search_report *r)
{
    const char *between = "";
    for (size_t i = 0; i < r->result->n_stations; i++) {
        if (!r->result->stations[i].takes_part || r->result->stations[i].found)
            continue;
        wfi_text_append(out, "%s%s", between, r->observation->stations[i].name);
        between = ", ";
    }
}

static void append_heading(wfi_text *out, const search_report *r)
{
    const wf_search_result *result = r->result;
    const wf_scan *scan = &r->observation->scans[result->i_scan];
    char start[WF_INSTANT_TEXT_BYTES];
    char delay[MEASURE_BYTES];
    char limit[MEASURE_BYTES];
    wf_instant_format(start, wf_instant_add(result->start, 0.5e-3), TIME_DIGITS);
    measure_format(delay, result->window_delay_s, 0, "s");
    measure_format_probability(limit, result->false_alarm);
    wfi_text_append(out, "scan %s of %s, campaign %s: %.6g s from %s\n", scan->name,
                    r->observation->sources[scan->i_source].name, r->observation->campaign,
                    result->length_s, start);
    wfi_text_append(out,
                    "window ±%s, ±%.3g s/s; a fringe is what noise shows with a probability "
                    "below %s\n",
                    delay, result->window_rate_s_per_s, limit);
    wfi_text_append(out, "%zu steps correlated %.3g s of observation; %.3g s in all\n\n",
                    result->n_steps, result->correlated_s, r->elapsed_s);
}

static void append_pair(wfi_text *out, double value, double error)
{
    wfi_text_append(out, "  %13.3f ± %-8.3f", value, error);
}

static void append_baseline(wfi_text *out, const search_report *r, const wf_search_baseline *b)
{
    const wf_station *stations = r->observation->stations;
    char chance[MEASURE_BYTES];
    measure_format_probability(chance, b->fit.false_alarm);
    wfi_text_append(out, "  %-8s %-8s  %c%c       %8.1f  %11s", stations[b->i_station].name,
                    stations[b->j_station].name, wf_polarization_letter(b->product.first),
                    wf_polarization_letter(b->product.second), b->fit.snr, chance);
    if (!b->found) {
        wfi_text_append(out, "  no fringe\n");
        return;
    }
    append_pair(out, 1e9 * b->fit.delay_s, 1e9 * b->fit.delay_error_s);
    append_pair(out, 1e12 * b->fit.rate_s_per_s, 1e12 * b->fit.rate_error_s_per_s);
    wfi_text_append(out, "  %9.3g  %8.1f\n", b->fit.amplitude, b->delay_residual_sigma);
}

static void append_baselines(wfi_text *out, const search_report *r)
{
    wfi_text_append(out, "  %-17s  %-7s  %8s  %11s  %24s  %24s  %9s  %8s\n", "baseline", "product",
                    "SNR", "false alarm", "delay/ns", "rate/(ps/s)", "amplitude", "left/σ");
    for (size_t k = 0; k < r->result->n_baselines; k++)
        append_baseline(out, r, &r->result->baselines[k]);
}

static void append_station(wfi_text *out, const search_report *r, size_t i)
{
    const wf_search_station *s = &r->result->stations[i];
    wfi_text_append(out, "  %-8s  %3zu of %-3zu", r->observation->stations[i].name, s->n_fringes,
                    s->n_baselines);
    if (s->found) {
        wfi_text_append(out, "  %18.6f  %12.4f", 1e6 * s->clock.ahead_s,
                        1e12 * s->clock.rate_s_per_s);
        append_pair(out, 1e9 * s->correction_s, 1e9 * s->correction_error_s);
        append_pair(out, 1e12 * s->correction_s_per_s, 1e12 * s->correction_error_s_per_s);
    } else {
        wfi_text_append(out, "  %18s  %12s  %24s  %24s", "–", "–", "–", "–");
    }
    wfi_text_append(out, "  %s\n", search_verdict(r->result, i));
}

static void append_stations(wfi_text *out, const search_report *r)
{
    char middle[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(middle, wf_instant_add(r->result->middle, 0.5e-3), TIME_DIGITS);
    wfi_text_append(out, "\nclocks at %s\n  %-8s  %-10s  %19s  %12s  %24s  %24s\n", middle,
                    "station", "fringes", "ahead/µs", "rate/(ps/s)", "change of ahead/ns",
                    "change of rate/(ps/s)");
    for (size_t i = 0; i < r->result->n_stations; i++)
        append_station(out, r, i);
    if (isfinite(r->result->delay_chi2))
        wfi_text_append(out, "  closure: reduced chi-squared %.2f of delays, %.2f of rates\n",
                        r->result->delay_chi2, r->result->rate_chi2);
}

void search_append_text(wfi_text *out, const search_report *r)
{
    append_heading(out, r);
    append_baselines(out, r);
    append_stations(out, r);
    diagnosis_append_text(out, r);
}
