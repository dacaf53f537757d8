/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "correlate_run.h"

#include <stdio.h>
#include <whitefringe/run.h>

bool bench_correlate(void *context)
{
    bench_correlate_run *run = context;
    char job[BENCH_PATH_BYTES + 16];
    char output[BENCH_PATH_BYTES + 16];
    snprintf(job, sizeof job, "%s/job.yaml", run->folder);
    snprintf(output, sizeof output, "%s/out.fits", run->folder);
    wf_observation *observation = NULL;
    wf_correlate_summary summary = {0};
    const wf_correlate_options options = {.n_threads = run->n_threads};
    wf_status status = wf_observation_load(&observation, job, &run->err);
    if (status == WF_OK)
        status = wf_correlate(observation, output, &options, &summary, &run->err);
    wf_correlate_summary_release(&summary);
    wf_observation_destroy(observation);
    return status == WF_OK;
}
