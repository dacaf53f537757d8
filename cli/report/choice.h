/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which baselines are drawn, so that a page of many scans and stations stays readable. */
#ifndef CLI_REPORT_CHOICE_H
#define CLI_REPORT_CHOICE_H

#include "report/survey.h"

/** Baselines that are drawn unless all are asked for. */
enum { CHOICE_MAX = 24 };

/** All where they are few; else the strongest baselines of stations in stretches, each in turn, and
 *  for the other half the weakest.
 *
 *  returned  chosen  [s->n_baselines], to be released
 *            n       how many
 */
wf_status choice_of_baselines(bool **chosen, size_t *n, const survey *s, bool all, wf_error *err);
void choice_release(bool *chosen);

#endif
