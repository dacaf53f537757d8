/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was found out about stations without fringes, as text and as JSON. */
#include <math.h>

#include "measure.h"
#include "search_result.h"

enum { OUTCOMES_SHOWN = 3, OUTCOMES_OF_NOISE = 1 };

static const char *verdict_word(wf_diagnosis_verdict verdict)
{
    static const char *const words[] = {
        [WF_DIAGNOSIS_MISTAKE] = "mistake in the job",
        [WF_DIAGNOSIS_RECORDING] = "recording at fault",
        [WF_DIAGNOSIS_TOO_WEAK] = "source too weak",
        [WF_DIAGNOSIS_FAINT] = "faint",
        [WF_DIAGNOSIS_UNEXPLAINED] = "unexplained",
    };
    return words[verdict];
}

/* Those that bring fringes; of noise the strongest is enough. */
static size_t count_shown(const wf_diagnosis *d)
{
    size_t n = 0;
    while (n < d->n_outcomes && n < OUTCOMES_SHOWN && d->outcomes[n].snr > 0 &&
           (n < OUTCOMES_OF_NOISE || d->outcomes[n].found))
        n++;
    return n;
}

static void append_outcomes(wfi_text *out, const wf_diagnosis *d)
{
    const size_t n_shown = count_shown(d);
    for (size_t k = 0; k < n_shown; k++) {
        const wf_hypothesis_outcome *o = &d->outcomes[k];
        char chance[MEASURE_BYTES];
        measure_format_probability(chance, o->false_alarm);
        wfi_text_append(out, "    tried: %s: SNR %.1f, false alarm %s%s\n", o->sentence, o->snr,
                        chance, o->found ? "" : ": no fringe");
    }
    const size_t n_more = d->n_outcomes - n_shown;
    if (n_more > 0)
        wfi_text_append(
            out, "    tried: %zu %smistake%s that bring%s %s; %.3g s of the scan each\n", n_more,
            n_shown > 0 ? "other " : "", n_more == 1 ? "" : "s", n_more == 1 ? "s" : "",
            n_shown < OUTCOMES_SHOWN ? "no fringe" : "less", d->tried_s);
}

static void append_changes(wfi_text *out, const wf_diagnoses *all)
{
    for (size_t i = 0; i < wf_job_edit_n_changes(all->mended); i++)
        wfi_text_append(out, "%s  %s\n", i == 0 ? "\nwhat mends the job (--apply does it)\n" : "",
                        wf_job_edit_change(all->mended, i));
}

void diagnosis_append_text(wfi_text *out, const search_report *r)
{
    if (r->diagnoses == NULL)
        return;
    for (size_t k = 0; k < r->diagnoses->n_stations; k++) {
        const wf_diagnosis *d = &r->diagnoses->stations[k];
        wfi_text_append(out, "\n%s: %s\n  %s\n", r->observation->stations[d->i_station].name,
                        verdict_word(d->verdict), d->text);
        for (size_t f = 0; f < d->n_findings; f++)
            wfi_text_append(out, "    seen: %s\n", d->findings[f].text);
        append_outcomes(out, d);
    }
    append_changes(out, r->diagnoses);
}

static void append_json_outcome(json *out, const wf_hypothesis_outcome *o)
{
    json_open(out, NULL, '{');
    json_text(out, "name", o->name);
    json_text(out, "sentence", o->sentence);
    json_number(out, "snr", o->snr);
    json_number(out, "false_alarm_probability", o->false_alarm);
    json_bool(out, "found", o->found);
    json_close(out);
}

static void append_json_station(json *out, const search_report *r, const wf_diagnosis *d)
{
    json_open(out, NULL, '{');
    json_text(out, "station", r->observation->stations[d->i_station].name);
    json_text(out, "verdict", verdict_word(d->verdict));
    json_text(out, "text", d->text);
    json_number(out, "expected_snr", d->expected_snr);
    json_number(out, "tried_s", d->tried_s);
    json_open(out, "findings", '[');
    for (size_t f = 0; f < d->n_findings; f++)
        json_text(out, NULL, d->findings[f].text);
    json_close(out);
    json_open(out, "hypotheses", '[');
    for (size_t k = 0; k < d->n_outcomes; k++)
        append_json_outcome(out, &d->outcomes[k]);
    json_close(out);
    json_close(out);
}

void diagnosis_append_json(json *out, const search_report *r)
{
    json_open(out, "diagnoses", '[');
    for (size_t k = 0; r->diagnoses != NULL && k < r->diagnoses->n_stations; k++)
        append_json_station(out, r, &r->diagnoses->stations[k]);
    json_close(out);
    json_open(out, "job_changes", '[');
    for (size_t i = 0; r->diagnoses != NULL && i < wf_job_edit_n_changes(r->diagnoses->mended); i++)
        json_text(out, NULL, wf_job_edit_change(r->diagnoses->mended, i));
    json_close(out);
}
