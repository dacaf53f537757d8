/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A report without pictures. */
#ifndef CLI_REPORT_SUMMARY_H
#define CLI_REPORT_SUMMARY_H

#include "base/text.h"
#include "json.h"
#include "report/survey.h"

/** The table of fringes as text. */
void report_append_text(wfi_text *out, const survey *s);

/** All as one JSON object.
 *
 *  pictures  [n_pictures] names of their files
 */
void report_append_json(json *out, const survey *s, char *const *pictures, size_t n_pictures);

#endif
