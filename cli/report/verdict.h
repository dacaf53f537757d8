/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is to be said of a station, in plain words. */
#ifndef CLI_REPORT_VERDICT_H
#define CLI_REPORT_VERDICT_H

#include "report/survey.h"

typedef enum verdict_level { VERDICT_GOOD, VERDICT_DOUBT, VERDICT_BAD } verdict_level;

enum { VERDICT_DOUBTS_MAX = 8, VERDICT_BYTES = 200 };

/** Of one station, over all stretches. */
typedef struct verdict {
    verdict_level level; /* a partner without any fringe is not held against it */
    size_t n_baselines;  /* of the station, each in each stretch */
    size_t n_found;      /* of those, with a fringe in a band and product at least */
    double snr_low;      /* of the strongest row of each baseline with a fringe */
    double snr_high;
    double valid_fraction; /* mean over its integrations; NaN: no data */
    char words[VERDICT_BYTES];
    char doubts[VERDICT_DOUBTS_MAX][VERDICT_BYTES];
    size_t n_doubts;
} verdict;

verdict verdict_of(const survey *s, size_t i_station);

#endif
