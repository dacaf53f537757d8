/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a diagnosis says, case by case. */
#include "support/check.h"

#include <search/verdict.h>
#include <stdio.h>

enum { ALDER, BIRCH, N_STATIONS };

typedef struct invented {
    wf_station stations[N_STATIONS];
    wf_observation observation;
    wf_search_station seen[N_STATIONS];
    wf_search_baseline baseline;
    wf_search_result result;
    wf_finding finding;
    wf_hypothesis_outcome outcome;
    wf_diagnosis diagnosis;
} invented;

/* Birch recorded and shows nothing; the others lead to expect 20 in a quarter of a second. */
static void invent(invented *in)
{
    *in = (invented){
        .stations = {{.name = "Alder"}, {.name = "Birch"}},
        .seen = {{.recorded = true, .found = true, .strength = 1},
                 {.recorded = true, .strength = NAN}},
        .baseline = {.i_station = ALDER, .j_station = BIRCH, .fit = {.snr = 5, .amplitude = 1e-3}},
        .finding = {.kind = WF_FINDING_NO_POWER, .text = "8400 MHz upper R: no power"},
        .outcome = {.name = "whole_seconds", .snr = 33.3},
        .diagnosis = {.i_station = BIRCH, .n_outcomes = 1, .expected_snr = 20, .tried_s = 0.25},
    };
    in->observation = (wf_observation){.stations = in->stations, .n_stations = N_STATIONS};
    in->result = (wf_search_result){.stations = in->seen,
                                    .n_stations = N_STATIONS,
                                    .baselines = &in->baseline,
                                    .n_baselines = 1,
                                    .length_s = 1};
    in->diagnosis.findings = &in->finding;
    in->diagnosis.outcomes = &in->outcome;
}

static void check(invented *in, const wfi_hypothesis *mistake, wf_diagnosis_verdict verdict,
                  const char *const *words)
{
    wfi_verdict_write(&in->diagnosis, mistake, &in->observation, &in->result);
    assert_int_equal(in->diagnosis.verdict, verdict);
    assert_true(strncmp(in->diagnosis.text, "Birch ", 6) == 0);
    for (; *words != NULL; words++)
        if (strstr(in->diagnosis.text, *words) == NULL)
            fail_msg("\"%s\" does not say \"%s\"", in->diagnosis.text, *words);
}

#define WORDS(...) ((const char *const[]){__VA_ARGS__, NULL})

static const wfi_hypothesis LATE = {.name = "whole_seconds",
                                    .sentence = "station Birch: its times are 1 s too late"};

static void mistakes_are_told_with_their_snr(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    check(&in, &LATE, WF_DIAGNOSIS_MISTAKE, WORDS("SNR of 33.3", ": its times are 1 s too late"));
    assert_null(strstr(in.diagnosis.text, "station Birch"));
    /* Another station's sentence, or one of the whole job, stays as it is. */
    const wfi_hypothesis other = {.sentence = "station Bir: its times"};
    check(&in, &other, WF_DIAGNOSIS_MISTAKE, WORDS("station Bir: its times"));
}

static void crossed_and_faint_stations_have_fringes(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    wf_search_station *birch = &in.seen[BIRCH];
    *birch = (wf_search_station){
        .recorded = true, .found = true, .is_crossed = true, .best_snr = 61.26, .strength = 1};
    check(&in, &LATE, WF_DIAGNOSIS_MISTAKE, WORDS("SNR 61.3", "crossed products"));
    birch->is_crossed = false;
    birch->strength = 0.413;
    check(&in, &LATE, WF_DIAGNOSIS_MISTAKE, WORDS("41 %", "mended", "1 s too late"));
    check(&in, NULL, WF_DIAGNOSIS_FAINT, WORDS("41 %", "less sensitive"));
}

static void recordings_at_fault_are_named(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    in.diagnosis.n_findings = 1;
    in.finding.is_fatal = true;
    check(&in, NULL, WF_DIAGNOSIS_RECORDING, WORDS("8400 MHz upper R: no power"));
    /* A mistake that brings fringes is stronger evidence. */
    check(&in, &LATE, WF_DIAGNOSIS_MISTAKE, WORDS("1 s too late"));
    in.finding.is_fatal = false;
    check(&in, NULL, WF_DIAGNOSIS_UNEXPLAINED, WORDS("no fringes"));
    in.finding = (wf_finding){.kind = WF_FINDING_POSITION, .text = "its position is that of Alder"};
    check(&in, NULL, WF_DIAGNOSIS_MISTAKE, WORDS("and its position is that of Alder: give"));
    in.diagnosis.n_findings = 0;
    in.seen[BIRCH].recorded = false;
    check(&in, NULL, WF_DIAGNOSIS_RECORDING, WORDS("recorded nothing"));
}

/* An expected SNR of 14, twice the common 7, parts what is missing from what is too weak; it grows
 * with the root of the time: 7 in a quarter of a second are 14 in one. */
static void missing_fringes_are_told_from_weak_ones(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    in.diagnosis.expected_snr = 7.1;
    check(&in, NULL, WF_DIAGNOSIS_UNEXPLAINED, WORDS("SNR of 14"));
    in.diagnosis.expected_snr = 6.9;
    /* 1e-3 at 5 sigma: 1.4e-3 at 7 */
    check(&in, NULL, WF_DIAGNOSIS_TOO_WEAK, WORDS("healthy", "too weak", "0.0014"));
    in.diagnosis.expected_snr = 0;
    check(&in, NULL, WF_DIAGNOSIS_TOO_WEAK, WORDS("healthy"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(mistakes_are_told_with_their_snr),
        cmocka_unit_test(crossed_and_faint_stations_have_fringes),
        cmocka_unit_test(recordings_at_fault_are_named),
        cmocka_unit_test(missing_fringes_are_told_from_weak_ones),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
