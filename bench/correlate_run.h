/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verb `correlate` on a campaign that bench_campaign_write wrote. */
#ifndef BENCH_CORRELATE_RUN_H
#define BENCH_CORRELATE_RUN_H

#include <stdbool.h>
#include <whitefringe/status.h>

#include "campaign.h"

typedef struct bench_correlate_run {
    char folder[BENCH_PATH_BYTES];
    int n_threads;
    wf_error err;
} bench_correlate_run;

/** A bench_subject's run; `context` is a bench_correlate_run, whose err tells what failed. */
bool bench_correlate(void *context);

#endif
