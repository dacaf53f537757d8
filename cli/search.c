/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe search: the fringes of a test scan, and the stations' clocks. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/job_edit.h>
#include <whitefringe/observation.h>

#include "base/status.h"
#include "base/text.h"
#include "progress.h"
#include "search_result.h"
#include "verbs.h"

enum { BACKUP_BYTES = 4096 };

static const double SIGNIFICANT_SIGMAS = 3;

typedef struct search {
    wf_search_options options;
    wf_job_edit *job;
    wf_observation *observation;
    wf_search_result *result;
    wf_diagnoses *diagnoses; /* NULL: none was needed */
} search;

static wf_status print(const settings *asked, const search_report *r, wf_error *err)
{
    wf_status status = WF_OK;
    if (asked->json) {
        json out = {0};
        search_append_json(&out, r);
        status = json_write(&out, stdout, err);
        json_release(&out);
    } else {
        wfi_text out = {0};
        search_append_text(&out, r);
        fputs(out.bytes, stdout);
        wfi_text_release(&out);
    }
    return status;
}

static double rounded(double value, int n_decimals)
{
    char text[64];
    snprintf(text, sizeof text, "%.*f", n_decimals, value);
    return wfi_parse_double(&value, text, strlen(text)) ? value : NAN;
}

/* As a person would write it: from a whole second on, to the femtosecond, for no clock is measured
 * better. A rate that a short scan cannot tell from the job's stays the job's, which may be known
 * from days. */
static wf_clock readable(const wf_search_station *station)
{
    const wf_clock *clock = &station->clock;
    const bool is_significant =
        fabs(station->correction_s_per_s) > SIGNIFICANT_SIGMAS * station->correction_error_s_per_s;
    const double rate = clock->rate_s_per_s - (is_significant ? 0 : station->correction_s_per_s);
    wf_clock out = {.reference = {.second = clock->reference.second}};
    out.rate_s_per_s = rounded(rate, 19);
    out.ahead_s = rounded(clock->ahead_s - out.rate_s_per_s * clock->reference.fraction, 15);
    return out;
}

static wf_status apply_clocks(wf_job_edit *job, const search_report *r, wf_error *err)
{
    for (size_t i = 0; i < r->result->n_stations; i++) {
        if (!r->result->stations[i].found || i == r->result->i_reference)
            continue;
        const wf_clock clock = readable(&r->result->stations[i]);
        WFI_TRY(wf_job_edit_set_clock(job, r->observation->stations[i].name, &clock, err));
    }
    return WF_OK;
}

/* What mends the job first, then the clocks that fringes give with it. */
static wf_status apply(const settings *asked, search *run, wf_error *err)
{
    char backup[BACKUP_BYTES] = "";
    wf_job_edit *job = run->job;
    if (run->diagnoses != NULL && wf_job_edit_n_changes(run->diagnoses->mended) > 0) {
        job = run->diagnoses->mended;
        wf_observation_destroy(run->observation);
        wf_search_result_destroy(run->result);
        run->observation = NULL;
        run->result = NULL;
        WFI_TRY(wf_job_edit_observation(job, &run->observation, err));
        WFI_TRY(wf_search(&run->result, run->observation, &run->options, err));
    }
    const search_report r = {.observation = run->observation, .result = run->result};
    WFI_TRY(apply_clocks(job, &r, err));
    WFI_TRY(wf_job_edit_save(job, backup, sizeof backup, err));
    FILE *out = asked->json ? stderr : stdout;
    for (size_t i = 0; i < wf_job_edit_n_changes(job); i++)
        fprintf(out, "%s%s\n", i == 0 ? "\nchanged in the job\n  " : "  ",
                wf_job_edit_change(job, i));
    if (backup[0] != '\0')
        fprintf(out, "  as it was: %s\n", backup);
    return WF_OK;
}

/* Scripts learn by the exit status that a station is missing. */
static wf_status judge(const search *run, wf_error *err)
{
    if (run->result->all_found)
        return WF_OK;
    const search_report r = {.observation = run->observation, .result = run->result};
    wfi_text missing = {0};
    search_append_missing(&missing, &r);
    const wf_status status = wfi_fail(err, WF_RANGE, "no fringes to %s", missing.bytes);
    wfi_text_release(&missing);
    return status;
}

static bool any_needs_diagnosis(const wf_search_result *result)
{
    for (size_t i = 0; i < result->n_stations; i++)
        if (wf_needs_diagnosis(result, i))
            return true;
    return false;
}

static wf_status look(const settings *asked, search *run, wf_error *err)
{
    WFI_TRY(wf_job_edit_open(&run->job, asked->operand, err));
    WFI_TRY(wf_observation_load(&run->observation, asked->operand, err));
    WFI_TRY(wf_search(&run->result, run->observation, &run->options, err));
    if (!asked->quick && any_needs_diagnosis(run->result))
        return wf_diagnose(&run->diagnoses, run->job, run->result, &run->options, err);
    return WF_OK;
}

static wf_status run(const settings *asked, wf_error *err)
{
    progress bar = progress_start("search");
    search all = {.options = {.scan_name = asked->scan,
                              .reference_name = asked->reference,
                              .window_delay_s = asked->window_delay_s,
                              .window_rate_s_per_s = asked->window_rate,
                              .longest_s = asked->seconds,
                              .n_threads = asked->threads,
                              .kernels = asked->kernels,
                              .keep_going = asked->keep_going,
                              .progress = progress_show,
                              .warn = progress_warn,
                              .context = &bar}};
    wf_status status = look(asked, &all, err);
    const search_report r = {.job = asked->operand,
                             .observation = all.observation,
                             .result = all.result,
                             .diagnoses = all.diagnoses,
                             .elapsed_s = progress_end(&bar)};
    if (status == WF_OK)
        status = print(asked, &r, err);
    if (status == WF_OK && asked->apply)
        status = apply(asked, &all, err);
    if (status == WF_OK)
        status = judge(&all, err);
    wf_diagnoses_destroy(all.diagnoses);
    wf_search_result_destroy(all.result);
    wf_observation_destroy(all.observation);
    wf_job_edit_destroy(all.job);
    return status;
}

static const option option_window_delay = {
    .name = "window-delay",
    .value = "SECONDS",
    .help = "clock errors to look for, to either side; default 100e-6, at most 1",
    .offset = offsetof(settings, window_delay_s),
    .kind = OPTION_SECONDS};
static const option option_window_rate = {
    .name = "window-rate",
    .value = "RATE",
    .help = "rates of clocks to look for, to either side, s/s; default 1e-10",
    .offset = offsetof(settings, window_rate),
    .kind = OPTION_RATIO};
static const option option_reference = {
    .name = "reference",
    .value = "STATION",
    .help = "whose clock is held; default: the station with the strongest fringes",
    .offset = offsetof(settings, reference),
    .kind = OPTION_TEXT};
static const option option_seconds = {
    .name = "seconds",
    .value = "SECONDS",
    .help = "how much of the scan may be correlated at once; default 10",
    .offset = offsetof(settings, seconds),
    .kind = OPTION_SECONDS};
static const option option_quick = {
    .name = "quick",
    .help = "do not try what may be wrong with stations that show no fringes",
    .offset = offsetof(settings, quick),
    .kind = OPTION_FLAG};
static const option option_apply = {
    .name = "apply",
    .help = "write clocks, and what mends the job, into it; a copy stays beside it",
    .offset = offsetof(settings, apply),
    .kind = OPTION_FLAG};
static const option *const options[] = {
    &option_scan,  &option_window_delay, &option_window_rate, &option_reference, &option_seconds,
    &option_quick, &option_apply,        &option_threads,     &option_kernels,   &option_json,
    NULL};

static const char *check(const settings *asked)
{
    static const double WIDEST_S = 1.0;
    if (asked->window_delay_s > WIDEST_S)
        return "--window-delay reaches to 1 s at most; whole seconds are mended by time_offset_s";
    return NULL;
}

const verb verb_search = {
    .name = "search",
    .summary = "the fringes of a test scan, and the clocks of the stations",
    .operand = "JOB.yaml",
    .details =
        "A short stretch in the middle of a scan is correlated with channels and integrations\n"
        "for a wide window of delays and rates; longer ones while stations are missing. With\n"
        "fringes, the clocks are fitted to all baselines. Exit status 1 where a station that\n"
        "recorded the scan shows no fringes.\n",
    .options = options,
    .check = check,
    .run = run,
};
