/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of one baseline over one stretch. */
#ifndef CLI_REPORT_BASELINE_FIGURES_H
#define CLI_REPORT_BASELINE_FIGURES_H

#include "report/figure.h"
#include "report/survey.h"

/** The fringe of one row: the surface in delay and rate around the peak, cuts, the whole window.
 *
 *  given   row  measured, its amplitude above 0
 *  status  OK | as wf_fringe_transform | MEMORY
 */
wf_status fringe_figure(figure *f, const survey *s, const wf_stretch_data *data,
                        const report_row *row, wf_error *err);

/** Amplitude and phase over frequency.
 *
 *  given   rows  [n_bands][n_products] of that baseline and stretch
 *  status  OK | MEMORY
 */
wf_status spectrum_figure(figure *f, const survey *s, const wf_stretch_data *data,
                          const report_row *rows, wf_error *err);

#endif
