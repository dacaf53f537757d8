/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closure phases and delays of one stretch. */
#ifndef CLI_REPORT_CLOSURE_FIGURE_H
#define CLI_REPORT_CLOSURE_FIGURE_H

#include "report/figure.h"
#include "report/survey.h"

/** Triangles side by side, with error bars. given: a stretch that has closures. */
void closure_figure(figure *f, const survey *s, size_t i_stretch);

#endif
