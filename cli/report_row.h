/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringes of a report, and the summaries of them. */
#ifndef CLI_REPORT_ROW_H
#define CLI_REPORT_ROW_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/fringe.h>

#include "base/text.h"
#include "json.h"

/** One line: the fringe of one baseline, band and product over one stretch. */
typedef struct report_row {
    size_t i_stretch;
    size_t i_station;
    size_t j_station;
    size_t i_band;
    size_t i_product;
    double valid_fraction; /* mean weight over the stretch */
    bool measured;         /* false: too little is valid for a fringe */
    wf_fringe_peak peak;
} report_row;

/** A fringe that noise makes less often than this counts as found. */
#define REPORT_FALSE_ALARM_MAX 1e-3

static inline bool report_row_found(const report_row *row)
{
    return row->measured && row->peak.false_alarm < REPORT_FALSE_ALARM_MAX;
}

/** Everything that the summaries show. */
typedef struct report {
    const char *file;
    const wf_fits_idi_info *info;
    const wf_stretches *stretches;
    report_row *rows;
    size_t n_rows;
    size_t capacity;
    char *const *pictures; /* [n_pictures] names of their files */
    size_t n_pictures;
} report;

/** The table as text. */
void report_append_text(wfi_text *out, const report *r);
/** The table as one JSON object. */
void report_append_json(json *out, const report *r);

#endif
