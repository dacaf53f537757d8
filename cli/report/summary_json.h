/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of a report's JSON object, each a key of its own. */
#ifndef CLI_REPORT_SUMMARY_JSON_H
#define CLI_REPORT_SUMMARY_JSON_H

#include "json.h"
#include "report/survey.h"

void summary_json_stations(json *out, const survey *s);
void summary_json_fits(json *out, const survey *s);
void summary_json_solutions(json *out, const survey *s);
void summary_json_stability(json *out, const survey *s);

/** UTC to the microsecond. */
void summary_json_time(json *out, const char *key, wf_instant t);

#endif
