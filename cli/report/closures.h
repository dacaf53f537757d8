/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closures of very many triangles: 64 stations have 41664. */
#ifndef CLI_REPORT_CLOSURES_H
#define CLI_REPORT_CLOSURES_H

#include "report/survey.h"

/** All of 20 stations' triangles are kept, and as many of more stations'. */
enum { CLOSURES_MAX = 1140 };

/** Keep the triangles whose phases, or without phases whose delays, are farthest from zero in their
 *  errors; in the order of their stations. n_triangles counts all. */
void closures_keep_farthest(survey_solution *solution);

/** The closure of the same triangle in a list of n, or NULL. */
const wf_closure *closures_find(const wf_closure *list, size_t n, const wf_closure *triangle);

#endif
