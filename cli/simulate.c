/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe simulate: recordings and a job file of an invented sky. */
#include <stdio.h>
#include <unistd.h>
#include <whitefringe/run.h>
#include <whitefringe/simulate.h>

#include "base/text.h"
#include "folder.h"
#include "json.h"
#include "progress.h"
#include "verbs.h"

static wf_status print_summary(const settings *asked, size_t n_recordings, wf_error *err)
{
    wfi_text job = {0};
    wfi_text_append(&job, "%s/job.yaml", asked->output);
    json out = {0};
    json_open(&out, NULL, '{');
    json_text(&out, "folder", asked->output);
    json_text(&out, "job", job.bytes);
    json_count(&out, "recordings", (int64_t)n_recordings);
    json_close(&out);
    wf_status status = WF_OK;
    if (asked->json)
        status = json_write(&out, stdout, err);
    else
        printf("%zu recordings in %s; next: whitefringe correlate %s/job.yaml -o OUT.fits\n",
               n_recordings, asked->output, asked->output);
    json_release(&out);
    wfi_text_release(&job);
    return status;
}

static wf_status run(const settings *asked, wf_error *err)
{
    wf_sky *sky = NULL;
    bool created = false;
    wf_status status = wf_sky_load(&sky, asked->operand, err);
    if (status == WF_OK)
        status = folder_ensure(asked->output, &created, err);
    if (status == WF_OK) {
        progress bar = progress_start("simulate");
        status = wf_run_simulation(sky, asked->output, asked->threads, progress_show, &bar, err);
        progress_end(&bar);
    }
    if (status == WF_OK)
        status = print_summary(asked, wf_sky_n_recordings(sky), err);
    else if (created)
        rmdir(asked->output); /* what is in it, if anything, stays */
    wf_sky_destroy(sky);
    return status;
}

static const option option_folder = {.name = "output",
                                     .letter = 'o',
                                     .value = "FOLDER",
                                     .help = "folder for recordings and job file; made if missing",
                                     .offset = offsetof(settings, output),
                                     .kind = OPTION_TEXT,
                                     .required = true};
static const option *const options[] = {&option_folder, &option_threads, &option_json, NULL};

const verb verb_simulate = {
    .name = "simulate",
    .summary = "recordings and a job file of an invented sky",
    .operand = "SKY.yaml",
    .details = "The sky file describes stations, sky, set-up and the recordings to make. They are\n"
               "written into FOLDER, with a file job.yaml that correlates them. The same sky file\n"
               "gives the same bytes, for any number of threads.\n",
    .options = options,
    .run = run,
};
