/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Coherence and Allan deviation of one stretch, and the phase of one baseline in time. */
#ifndef CLI_REPORT_STABILITY_FIGURES_H
#define CLI_REPORT_STABILITY_FIGURES_H

#include "report/figure.h"
#include "report/survey.h"
#include "report/survey_stability.h"

/** Coherence against integration time, a curve a baseline. */
void coherence_figure(figure *f, const survey *s, size_t i_stretch);

/** Allan deviation against averaging time, a curve a baseline, with what two masers and two
 *  atmospheres have. */
void allan_figure(figure *f, const survey *s, size_t i_stretch);

/** The same of stations, where they could be told apart. */
void station_allan_figure(figure *f, const survey *s, size_t i_stretch);

/** Amplitude and phase in time, residual delay and rate taken out.
 *
 *  given  p  with a phase
 */
void phase_figure(figure *f, const survey *s, const survey_baseline *b, const survey_phase *p);

#endif
