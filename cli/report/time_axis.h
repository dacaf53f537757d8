/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The time axis: stretches side by side, gaps between them left out. */
#ifndef CLI_REPORT_TIME_AXIS_H
#define CLI_REPORT_TIME_AXIS_H

#include "report/figure.h"
#include "report/survey.h"

/** Place of the middle of an integration of the file on the axis, which counts integrations. */
double time_axis_place(size_t i_time);

/** Range, ticks at the starts of stretches with their UTC, lines between stretches. */
void time_axis_append(figure *f, const survey *s);

#endif
