/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The u,v plane of a file. */
#ifndef CLI_REPORT_SURVEY_UV_H
#define CLI_REPORT_SURVEY_UV_H

#include "report/survey.h"

/** Read u, v of all rows: the extents of all sources, and points for a picture. */
wf_status survey_uv_read(survey *s, wf_error *err);

#endif
