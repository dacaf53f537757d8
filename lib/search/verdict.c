/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A diagnosis in plain words. */
#include "search/verdict.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "search/baselines.h"

/* Others' fringes this much over what can be missed: then this station's would have shown. */
static const double CLEARLY_MISSING = 2.0;
/* Common practice: below, noise is taken for a fringe now and then. */
static const double SURE_SNR = 7.0;

static const wf_finding *finding_of_position(const wf_diagnosis *diagnosis)
{
    for (size_t k = 0; k < diagnosis->n_findings; k++)
        if (diagnosis->findings[k].kind == WF_FINDING_POSITION)
            return &diagnosis->findings[k];
    return NULL;
}

static const wf_finding *fatal_finding(const wf_diagnosis *diagnosis)
{
    for (size_t k = 0; k < diagnosis->n_findings; k++)
        if (diagnosis->findings[k].is_fatal)
            return &diagnosis->findings[k];
    return NULL;
}

/* The correlation that would just have been seen on the station's best baseline. */
static double least_amplitude(const wf_search_result *result, size_t i_station)
{
    double least = INFINITY;
    for (size_t k = 0; k < result->n_baselines; k++) {
        const wf_search_baseline *b = &result->baselines[k];
        if (wfi_baseline_involves(b, i_station) && b->fit.snr > 0)
            least = fmin(least, SURE_SNR * b->fit.amplitude / b->fit.snr);
    }
    return least;
}

const char *wfi_sentence_alone(const char *sentence, const char *name)
{
    static const char start[] = "station ";
    const size_t n = strlen(name);
    const char *rest = sentence + sizeof start - 1;
    if (strncmp(sentence, start, sizeof start - 1) == 0 && strncmp(rest, name, n) == 0 &&
        strncmp(rest + n, ": ", 2) == 0)
        return rest + n + 2;
    return sentence;
}

void wfi_verdict_write(wf_diagnosis *diagnosis, const wfi_hypothesis *mistake,
                       const wf_observation *observation, const wf_search_result *result)
{
    char *text = diagnosis->text;
    const size_t size = sizeof diagnosis->text;
    const char *name = observation->stations[diagnosis->i_station].name;
    const wf_search_station *station = &result->stations[diagnosis->i_station];
    const wf_finding *fatal = fatal_finding(diagnosis);
    const wf_finding *place = finding_of_position(diagnosis);
    const double expected =
        diagnosis->expected_snr * sqrt(result->length_s / fmax(diagnosis->tried_s, 1e-9));
    if (station->is_mixed) {
        diagnosis->verdict = WF_DIAGNOSIS_MISTAKE;
        snprintf(text, size,
                 "%s has fringes (SNR %.1f) of like strength in all products: its feeds are linear "
                 "where the others' are circular, or the other way round, whatever the labels say; "
                 "no job holds both, so calibrate them after the correlation",
                 name, station->best_snr);
    } else if (mistake != NULL && station->is_crossed) {
        diagnosis->verdict = WF_DIAGNOSIS_MISTAKE;
        snprintf(text, size, "%s has fringes (SNR %.1f) in the crossed products: %s", name,
                 station->best_snr, wfi_sentence_alone(mistake->sentence, name));
    } else if (station->found && mistake != NULL) {
        diagnosis->verdict = WF_DIAGNOSIS_MISTAKE;
        snprintf(text, size,
                 "%s has fringes of %.0f %% of the strength that is usual here, and "
                 "full ones once this is mended: %s",
                 name, 100 * station->strength, wfi_sentence_alone(mistake->sentence, name));
    } else if (station->found) {
        diagnosis->verdict = WF_DIAGNOSIS_FAINT;
        snprintf(text, size,
                 "%s has fringes of %.0f %% of the strength that is usual here, and no "
                 "mistake of reading its samples explains it; a less sensitive antenna does",
                 name, 100 * station->strength);
    } else if (mistake != NULL) {
        diagnosis->verdict = WF_DIAGNOSIS_MISTAKE;
        snprintf(text, size, "%s has fringes again, with an SNR of %.1f, once this is mended: %s",
                 name, diagnosis->outcomes[0].snr, wfi_sentence_alone(mistake->sentence, name));
    } else if (fatal != NULL) {
        diagnosis->verdict = WF_DIAGNOSIS_RECORDING;
        snprintf(text, size, "%s cannot have fringes: %s", name, fatal->text);
    } else if (place != NULL) {
        diagnosis->verdict = WF_DIAGNOSIS_MISTAKE;
        snprintf(text, size, "%s has no fringes, and %s: give each its own position_itrf_m", name,
                 place->text);
    } else if (!station->recorded) {
        diagnosis->verdict = WF_DIAGNOSIS_RECORDING;
        snprintf(text, size,
                 "%s recorded nothing of this scan, and no change of its times brings fringes",
                 name);
    } else if (expected > CLEARLY_MISSING * SURE_SNR) {
        diagnosis->verdict = WF_DIAGNOSIS_UNEXPLAINED;
        snprintf(text, size,
                 "%s has no fringes where the others lead to expect an SNR of %.0f, and none of "
                 "%zu mistakes explains it; widen the window of delays, then look at the "
                 "receiver: pointing, oscillators, cables",
                 name, expected, diagnosis->n_outcomes);
    } else {
        diagnosis->verdict = WF_DIAGNOSIS_TOO_WEAK;
        snprintf(text, size,
                 "%s is healthy as far as its samples show; the source is too weak for it here: a "
                 "correlation above %.2g would have been seen; take a stronger source or more of "
                 "the scan",
                 name, least_amplitude(result, diagnosis->i_station));
    }
}
