/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verbs: one file each. */
#ifndef CLI_VERBS_H
#define CLI_VERBS_H

#include "options.h"

extern const verb verb_correlate;
extern const verb verb_delays;
extern const verb verb_inspect;
extern const verb verb_report;
extern const verb verb_search;
extern const verb verb_simulate;
extern const verb verb_throughput;

#endif
