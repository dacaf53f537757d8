/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How stable the phase of each baseline and station was. */
#ifndef CLI_REPORT_SURVEY_STABILITY_H
#define CLI_REPORT_SURVEY_STABILITY_H

#include "report/survey.h"

/** The phase in time of one baseline's fringe, and what it is made of; the integrations averaged
 *  until the fringe shows in each. Start from {0}; release it. */
typedef struct survey_phase {
    wf_fringe_series *series;
    wf_fringe_phase *phase;
    size_t n_averaged;
} survey_phase;

/** status  OK, also where nothing came of it: phase is then NULL | MEMORY and others */
wf_status survey_phase_make(survey_phase *out, const wf_stretch_data *data, const survey_fit *fit,
                            wf_coherence **coherence, wf_error *err);
void survey_phase_release(survey_phase *phase);

/** Measure a baseline that has a fringe; events and spectrum are kept until the stretch ends. */
wf_status survey_measure_stability(survey_stability *out, const wf_stretch_data *data,
                                   const survey_fit *fit, wf_error *err);

/** Separate the stations of a stretch: Allan deviations, events, lines. */
wf_status survey_separate_stations(survey *s, size_t i_stretch, wf_error *err);

void survey_stability_release(survey_stability *stability);
void survey_stretch_stability_release(survey_stretch_stability *stability);

#endif
