/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every hypothesis of every station without fringes, by a look at the job that it asks for. */
#include <whitefringe/diagnosis.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/order.h"
#include "base/status.h"
#include "observation/hypotheses.h"
#include "search/attempt.h"
#include "search/baselines.h"
#include "search/health.h"
#include "search/options.h"
#include "search/turn.h"
#include "search/verdict.h"

/* A look is long enough for a fringe of this strength, if the station is as good as the others. */
static const double WANTED_SNR = 25;
static const double SHORTEST_S = 0.25;
/* Without any fringe to go by. */
static const double BLIND_S = 4;
/* A station is faint below this strength; what mends it gains this much over how it is. */
static const double FAINT = 0.8;
static const double GAIN_OF_MENDING = 1.15;
/* So much of what the others lead to expect settles the matter. */
static const double SETTLED = 0.85;
/* So much is beyond doubt even of a recording with faults. */
static const double FULL = 0.5;
enum { PARTNERS_MAX = 3 };

typedef struct diagnosing {
    const wf_job_edit *job;
    const wf_observation *observation;
    const wf_search_result *result;
    wf_search_options options; /* complete */
    wfi_recorded *recorded;    /* [n_recordings] */
    bool *partners;            /* [n_stations] of the station at hand */
    wf_clock *clocks;          /* [n_stations] */
    wf_diagnoses *out;
    int64_t n_done;
    int64_t n_total;
} diagnosing;

static bool is_faint(const wf_search_station *station)
{
    return station->found && station->strength < FAINT;
}

bool wf_needs_diagnosis(const wf_search_result *result, size_t i_station)
{
    const wf_search_station *s = &result->stations[i_station];
    return s->takes_part && (!s->found || s->is_crossed || s->is_mixed || is_faint(s));
}

static bool any_found(const wf_search_result *result)
{
    return wfi_baselines_any_found(result->baselines, result->n_baselines);
}

/* What the median fringe of the others would be in one second; 0: there are none. */
static wf_status typical_snr(double *snr, const wf_search_result *result, wf_error *err)
{
    double *all = NULL;
    size_t n = 0;
    WFI_TRY(wfi_allocate(&all, result->n_baselines, sizeof(double), "fringes", err));
    for (size_t k = 0; k < result->n_baselines; k++)
        if (result->baselines[k].found)
            all[n++] = result->baselines[k].fit.snr;
    wfi_sort_ascending(all, n);
    *snr = n > 0 ? all[n / 2] / sqrt(result->length_s) : 0;
    wfi_free(all);
    return WF_OK;
}

static double length_for(const diagnosing *run, double snr_of_second)
{
    const wf_search_result *result = run->result;
    const double all_s =
        fmin(run->options.longest_s, run->observation->scans[result->i_scan].duration_s);
    if (!(snr_of_second > 0))
        return fmin(BLIND_S, all_s);
    const double ratio = WANTED_SNR / snr_of_second;
    return fmin(fmax(ratio * ratio, SHORTEST_S), fmin(all_s, result->length_s));
}

/* The strongest stations with fringes; without any, all others that recorded. */
static void choose_partners(diagnosing *run, size_t i_station)
{
    const wf_search_result *result = run->result;
    const bool found_any = any_found(result);
    memset(run->partners, false, result->n_stations * sizeof(bool));
    for (size_t n = 0; n < (found_any ? PARTNERS_MAX : result->n_stations); n++) {
        size_t best = result->n_stations;
        for (size_t i = 0; i < result->n_stations; i++) {
            const wf_search_station *s = &result->stations[i];
            if (i == i_station || run->partners[i] || !s->recorded || s->found != found_any)
                continue;
            if (best == result->n_stations || s->best_snr > result->stations[best].best_snr)
                best = i;
        }
        if (best == result->n_stations)
            break;
        run->partners[best] = true;
    }
}

static wf_status report_progress(diagnosing *run, wf_error *err)
{
    run->n_done++;
    const wf_progress progress = {.n_done = run->n_done,
                                  .n_total =
                                      run->n_total > run->n_done ? run->n_total : run->n_done,
                                  .unit = "hypotheses"};
    if (run->options.progress != NULL && run->options.progress(run->options.context, &progress))
        return wfi_fail(err, WF_CANCELLED, "stopped on request");
    return WF_OK;
}

/* A job that the hypothesis makes impossible is no answer, and no failure either. */
static wf_status try_one(diagnosing *run, wf_hypothesis_outcome *outcome,
                         const wfi_hypothesis *hypothesis, const wfi_attempt_setup *setup,
                         wf_error *err)
{
    wf_error none = WF_ERROR_INIT;
    wf_job_edit *edited = NULL;
    wf_observation *observation = NULL;
    wf_search_baseline best = {.fit = {.false_alarm = 1}};
    wf_status status = wf_job_edit_copy(&edited, run->job, &none);
    if (status == WF_OK)
        status = wfi_hypothesis_apply(hypothesis, edited, &none);
    if (status == WF_OK)
        status = wf_job_edit_observation(edited, &observation, &none);
    if (status == WF_OK)
        status = wfi_attempt(&best, observation, setup, &none);
    wf_observation_destroy(observation);
    wf_job_edit_destroy(edited);
    if (status == WF_MEMORY || status == WF_CANCELLED)
        return wfi_fail(err, status, "%s", none.message);
    outcome->snr = best.fit.snr;
    outcome->false_alarm = best.fit.false_alarm;
    outcome->found = best.found;
    return report_progress(run, err);
}

static void keep_outcome(wf_diagnosis *diagnosis, const wfi_hypothesis *hypothesis,
                         wf_hypothesis_outcome outcome, double n_tried, const char *station)
{
    snprintf(outcome.name, sizeof outcome.name, "%s", hypothesis->name);
    snprintf(outcome.sentence, sizeof outcome.sentence, "%s",
             wfi_sentence_alone(hypothesis->sentence, station));
    outcome.false_alarm = fmin(1, n_tried * outcome.false_alarm);
    diagnosis->outcomes[diagnosis->n_outcomes++] = outcome;
}

/* Of a faint station: what it has as it is, and a bit more. */
static wf_status snr_to_surpass(double *snr, const diagnosing *run, const wfi_attempt_setup *setup,
                                wf_error *err)
{
    wf_search_baseline now;
    WFI_TRY(wfi_attempt(&now, run->observation, setup, err));
    *snr = GAIN_OF_MENDING * now.fit.snr;
    return WF_OK;
}

/* The best so far: index of the list, or its length. */
typedef struct contest {
    size_t i_best;
    double best_snr;
    bool is_settled; /* nothing can be much better */
} contest;

static wf_status try_turn(diagnosing *run, wf_diagnosis *diagnosis, const wfi_hypotheses *list,
                          const wfi_attempt_setup *setup, int turn, contest *so_far, wf_error *err)
{
    const wfi_plight plight = {.others_have_fringes = any_found(run->result),
                               .has_fringes = run->result->stations[diagnosis->i_station].found};
    const char *station = run->observation->stations[diagnosis->i_station].name;
    for (size_t h = 0; h < list->n; h++) {
        const wfi_hypothesis *hypothesis = &list->items[h];
        if (wfi_turn_of(hypothesis, &plight) != turn ||
            (so_far->is_settled && !wfi_rivals_a_settled_one(hypothesis)))
            continue;
        wf_hypothesis_outcome outcome = {.false_alarm = 1};
        WFI_TRY(try_one(run, &outcome, hypothesis, setup, err));
        keep_outcome(diagnosis, hypothesis, outcome, (double)(list->n + 1), station);
        if (!outcome.found || outcome.snr <= so_far->best_snr)
            continue;
        so_far->best_snr = outcome.snr;
        so_far->i_best = h;
        so_far->is_settled = plight.others_have_fringes
                                 ? outcome.snr > SETTLED * diagnosis->expected_snr
                                 : turn == 0;
    }
    return WF_OK;
}

static wf_status try_all(diagnosing *run, wf_diagnosis *diagnosis, const wfi_hypotheses *list,
                         size_t *i_best, wf_error *err)
{
    double snr_of_second = 0;
    WFI_TRY(typical_snr(&snr_of_second, run->result, err));
    const double length_s = length_for(run, snr_of_second);
    const wfi_attempt_setup setup = {
        .scan_name = run->observation->scans[run->result->i_scan].name,
        .i_station = diagnosis->i_station,
        .partners = run->partners,
        .clocks = run->clocks,
        .length_s = length_s,
        .false_alarm = run->options.false_alarm / (double)(list->n + 1),
        .options = &run->options,
    };
    diagnosis->tried_s = length_s;
    diagnosis->expected_snr = snr_of_second * sqrt(length_s);
    WFI_TRY(
        wfi_allocate(&diagnosis->outcomes, list->n, sizeof *diagnosis->outcomes, "outcomes", err));
    contest so_far = {.i_best = list->n};
    if (run->result->stations[diagnosis->i_station].found)
        WFI_TRY(snr_to_surpass(&so_far.best_snr, run, &setup, err));
    for (int turn = 0; turn < WFI_TURNS; turn++)
        WFI_TRY(try_turn(run, diagnosis, list, &setup, turn, &so_far, err));
    *i_best = so_far.i_best;
    return WF_OK;
}

/* A constant, or stale buffers, correlate a little with an offset or a line of others: what brings
 * so little is no mistake of the job. */
static bool is_in_doubt(const wf_diagnosis *diagnosis)
{
    const bool is_full = diagnosis->n_outcomes > 0 && diagnosis->expected_snr > 0 &&
                         diagnosis->outcomes[0].snr > FULL * diagnosis->expected_snr;
    for (size_t f = 0; f < diagnosis->n_findings; f++) {
        const wf_finding *finding = &diagnosis->findings[f];
        if (finding->is_fatal && finding->kind != WF_FINDING_SAMPLER && !is_full)
            return true;
    }
    return false;
}

/* Swapped polarizations are seen in the fringes that there are. */
static size_t hypothesis_of_products(const wfi_hypotheses *list)
{
    size_t h = 0;
    while (h < list->n && strcmp(list->items[h].name, "polarizations_swapped") != 0)
        h++;
    return h;
}

static int strongest_first(const void *a, const void *b)
{
    const double x = ((const wf_hypothesis_outcome *)a)->snr;
    const double y = ((const wf_hypothesis_outcome *)b)->snr;
    return (x < y) - (x > y);
}

static wf_status diagnose_with(diagnosing *run, wf_diagnosis *diagnosis, const wfi_hypotheses *list,
                               wf_error *err)
{
    size_t best = list->n;
    const wf_search_station *station = &run->result->stations[diagnosis->i_station];
    if (station->is_mixed) {
        best = list->n;
    } else if (station->is_crossed) {
        best = hypothesis_of_products(list);
    } else {
        choose_partners(run, diagnosis->i_station);
        run->n_total = run->n_done + (int64_t)list->n;
        WFI_TRY(wfi_health_check(&diagnosis->findings, &diagnosis->n_findings, run->observation,
                                 diagnosis->i_station, err));
        if (!wfi_health_holds_nothing(diagnosis->findings, diagnosis->n_findings, run->observation,
                                      diagnosis->i_station))
            WFI_TRY(try_all(run, diagnosis, list, &best, err));
        if (diagnosis->n_outcomes > 0)
            qsort(diagnosis->outcomes, diagnosis->n_outcomes, sizeof *diagnosis->outcomes,
                  strongest_first);
        if (is_in_doubt(diagnosis))
            best = list->n;
    }
    const wfi_hypothesis *mistake = best < list->n ? &list->items[best] : NULL;
    if (mistake != NULL)
        WFI_TRY(wfi_hypothesis_apply(mistake, run->out->mended, err));
    wfi_verdict_write(diagnosis, mistake, run->observation, run->result);
    return WF_OK;
}

static wf_status diagnose_station(diagnosing *run, size_t i_station, wf_error *err)
{
    wf_diagnosis *diagnosis = &run->out->stations[run->out->n_stations++];
    *diagnosis = (wf_diagnosis){.i_station = i_station};
    wfi_hypotheses list = {0};
    wf_status status = wfi_hypotheses_list(&list, run->observation, run->job, i_station,
                                           run->result->i_scan, run->recorded, err);
    if (status == WF_OK)
        status = diagnose_with(run, diagnosis, &list, err);
    wfi_hypotheses_release(&list);
    return status;
}

static void learn_recording(wfi_recorded *out, const wf_recording_entry *entry)
{
    wf_recording *recording = NULL;
    if (wf_recording_open(&recording, entry, NULL) != WF_OK)
        return;
    const wf_recording_info *info = wf_recording_describe(recording);
    const wf_sample_format *format = &info->threads[0].format;
    *out = (wfi_recorded){.is_known = true,
                          .is_vdif = strcmp(info->format_name, "VDIF") == 0,
                          .is_complex = format->is_complex,
                          .bits = format->bits,
                          .sample_rate_hz = info->sample_rate_hz,
                          .frame_s = (double)info->frame_samples / (double)info->sample_rate_hz,
                          .reference_epoch = -1};
    wf_recording_close(recording);
}

static wf_status prepare(diagnosing *run, wf_error *err)
{
    const wf_observation *o = run->observation;
    WFI_TRY(
        wfi_allocate(&run->recorded, o->n_recordings, sizeof *run->recorded, "recordings", err));
    WFI_TRY(wfi_allocate(&run->partners, o->n_stations, sizeof(bool), "stations", err));
    WFI_TRY(wfi_allocate(&run->clocks, o->n_stations, sizeof *run->clocks, "clocks", err));
    WFI_TRY(wfi_allocate(&run->out->stations, o->n_stations, sizeof *run->out->stations,
                         "diagnoses", err));
    for (size_t r = 0; r < o->n_recordings; r++)
        learn_recording(&run->recorded[r], &o->recordings[r]);
    for (size_t i = 0; i < o->n_stations; i++)
        run->clocks[i] = run->result->stations[i].clock;
    return wf_job_edit_copy(&run->out->mended, run->job, err);
}

static wf_status diagnose_all(diagnosing *run, wf_error *err)
{
    WFI_TRY(prepare(run, err));
    for (size_t i = 0; i < run->result->n_stations; i++) {
        if (wf_needs_diagnosis(run->result, i))
            WFI_TRY(diagnose_station(run, i, err));
    }
    return WF_OK;
}

wf_status wf_diagnose(wf_diagnoses **out, const wf_job_edit *job, const wf_search_result *result,
                      const wf_search_options *options, wf_error *err)
{
    *out = NULL;
    wf_observation *observation = NULL;
    WFI_TRY(wf_job_edit_observation(job, &observation, err));
    diagnosing run = {.job = job,
                      .observation = observation,
                      .result = result,
                      .options = wfi_search_options_complete(options)};
    wf_status status = wfi_allocate(&run.out, 1, sizeof *run.out, "diagnoses", err);
    if (status == WF_OK)
        status = diagnose_all(&run, err);
    if (status == WF_OK)
        *out = run.out;
    else
        wf_diagnoses_destroy(run.out);
    wfi_free(run.recorded);
    wfi_free(run.partners);
    wfi_free(run.clocks);
    wf_observation_destroy(observation);
    return status;
}

void wf_diagnoses_destroy(wf_diagnoses *diagnoses)
{
    if (diagnoses == NULL)
        return;
    for (size_t k = 0; diagnoses->stations != NULL && k < diagnoses->n_stations; k++) {
        wfi_free(diagnoses->stations[k].findings);
        wfi_free(diagnoses->stations[k].outcomes);
    }
    wfi_free(diagnoses->stations);
    wf_job_edit_destroy(diagnoses->mended);
    wfi_free(diagnoses);
}
