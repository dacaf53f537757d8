/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why a station shows no fringes. */
#ifndef WHITEFRINGE_DIAGNOSIS_H
#define WHITEFRINGE_DIAGNOSIS_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/job_edit.h>
#include <whitefringe/search.h>
#include <whitefringe/status.h>

/** What is seen of a station's own samples. */
typedef enum wf_finding_kind {
    WF_FINDING_NO_SAMPLES, /* nothing valid */
    WF_FINDING_NO_POWER,   /* every sample is zero, or the same */
    WF_FINDING_SAMPLER,    /* states that no healthy sampler has */
    WF_FINDING_DEAD_BAND,  /* most of a band is empty */
    WF_FINDING_REPETITION, /* the samples come again */
    WF_FINDING_POSITION,   /* the job has two stations in one place */
    WF_FINDING_NO_TONES,   /* the job expects phase-calibration tones, and there are none */
} wf_finding_kind;

enum { WF_FINDING_BYTES = 256, WF_HYPOTHESIS_NAME_BYTES = 48, WF_DIAGNOSIS_TEXT_BYTES = 512 };

typedef struct wf_finding {
    wf_finding_kind kind;
    bool is_fatal; /* enough to explain that there is no fringe */
    char text[WF_FINDING_BYTES];
} wf_finding;

/** A mistake that was assumed, and what became of the fringe. */
typedef struct wf_hypothesis_outcome {
    char name[WF_HYPOTHESIS_NAME_BYTES];
    char sentence[WF_FINDING_BYTES]; /* what would be wrong */
    double snr;                      /* of the station's best baseline */
    double false_alarm;              /* over all that was tried */
    bool found;
} wf_hypothesis_outcome;

typedef enum wf_diagnosis_verdict {
    WF_DIAGNOSIS_MISTAKE,     /* a change of the job brings the fringes; or the job has two stations
                                 in one place */
    WF_DIAGNOSIS_RECORDING,   /* the samples themselves are at fault */
    WF_DIAGNOSIS_TOO_WEAK,    /* nothing is wrong that could be seen: the source is too weak here */
    WF_DIAGNOSIS_FAINT,       /* it has fringes, fainter than the others' */
    WF_DIAGNOSIS_UNEXPLAINED, /* others have fringes that this station should have too */
} wf_diagnosis_verdict;

/** One station. */
typedef struct wf_diagnosis {
    size_t i_station;
    wf_diagnosis_verdict verdict;
    char text[WF_DIAGNOSIS_TEXT_BYTES]; /* in plain words */
    wf_finding *findings;               /* [n_findings] */
    size_t n_findings;
    wf_hypothesis_outcome *outcomes; /* [n_outcomes] the strongest first */
    size_t n_outcomes;
    double expected_snr; /* by the other stations' fringes; 0: there are none */
    double tried_s;      /* of the scan, for every hypothesis */
} wf_diagnosis;

typedef struct wf_diagnoses {
    wf_diagnosis *stations; /* [n_stations] those for which wf_needs_diagnosis */
    size_t n_stations;
    wf_job_edit *mended; /* the job with all changes; nothing is saved */
} wf_diagnoses;

/** Has a station no fringes, or fringes in the wrong products, or much fainter ones than the
 * others?
 */
WF_API bool wf_needs_diagnosis(const wf_search_result *result, size_t i_station);

/** Try what goes wrong in practice, for every station that needs it.
 *
 *  given   job     as it was searched
 *          result  of wf_search
 *  status  as wf_search
 */
WF_API WF_MUST_CHECK wf_status wf_diagnose(wf_diagnoses **out, const wf_job_edit *job,
                                           const wf_search_result *result,
                                           const wf_search_options *options, wf_error *err);
WF_API void wf_diagnoses_destroy(wf_diagnoses *diagnoses);

#endif
