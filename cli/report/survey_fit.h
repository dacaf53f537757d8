/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fringes over all bands of a baseline, and what they say of the stations. */
#ifndef CLI_REPORT_SURVEY_FIT_H
#define CLI_REPORT_SURVEY_FIT_H

#include "report/survey.h"

/** Fit one product of a baseline over its bands: with the bands in phase, or with their phases free
 *  where these do not line up. Too little that is valid is a result, not a failure. */
wf_status survey_fit_product(survey_fit *out, const wf_stretch_data *data, size_t i_product,
                             wf_error *err);

/** Solve delay and rate of the stations of one stretch, all of whose baselines are measured; and
 *  its closures. */
wf_status survey_solve(survey *s, size_t i_stretch, wf_error *err);
void survey_solution_release(survey_solution *solution);

#endif
