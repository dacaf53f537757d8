/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a search found, for its text and its JSON. */
#ifndef CLI_SEARCH_RESULT_H
#define CLI_SEARCH_RESULT_H

#include <whitefringe/diagnosis.h>
#include <whitefringe/search.h>

#include "json.h"

typedef struct search_report {
    const char *job;
    const wf_observation *observation;
    const wf_search_result *result;
    const wf_diagnoses *diagnoses; /* NULL: nothing was missing, or nobody asked */
    double elapsed_s;
} search_report;

void search_append_text(wfi_text *out, const search_report *r);
void search_append_json(json *out, const search_report *r);

/** What was found out about stations without fringes. */
void diagnosis_append_text(wfi_text *out, const search_report *r);
void diagnosis_append_json(json *out, const search_report *r);

/** "fringes on 3 of 3 baselines", and what else there is to say of a station. */
const char *search_verdict(const wf_search_result *result, size_t i_station);

/** "Damson, Elm": stations that recorded and show no fringe; "" where there are none. */
void search_append_missing(wfi_text *out, const search_report *r);

#endif
