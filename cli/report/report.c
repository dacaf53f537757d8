/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe report: what a FITS-IDI file shows, in pictures and a table. */
#include <stdio.h>
#include <whitefringe/fringe.h>
#include <whitefringe/visibility.h>

#include "base/status.h"
#include "gnuplot.h"
#include "progress.h"
#include "report/page.h"
#include "report/summary.h"
#include "report/survey.h"
#include "staging.h"
#include "verbs.h"

static const char PAGE[] = "report.html";

typedef struct work {
    survey survey;
    page page;
    staging files;
    progress bar;
    int64_t n_done;
} work;

/* Counts what was done, draws the bar, and asks for a signal: baselines with themselves as they
 * are measured, and those with others again as they are drawn. */
static wf_status tick(void *context)
{
    work *w = context;
    const survey *s = &w->survey;
    const size_t n = s->info->n_stations;
    const wf_progress now = {
        .n_done = w->n_done,
        .n_total = (int64_t)(wf_stretches_n(s->stretches) * n * (n + 1) / 2 + s->n_baselines),
        .unit = "baselines"};
    w->n_done++;
    return progress_show(&w->bar, &now) == 0 ? WF_OK : WF_CANCELLED;
}

/* The summaries as files, and one of them on stdout. */
static wf_status write_summaries(work *w, const settings *asked, wf_error *err)
{
    json object = {0};
    wfi_text text = {0};
    /* the page is kept last, behind its pictures */
    const size_t n_pictures = w->files.n_kept - 1;
    report_append_text(&text, &w->survey);
    report_append_json(&object, &w->survey, w->files.kept, n_pictures);
    wfi_text_append(&object.text, "\n");
    wf_status status = staging_write(&w->files, "summary.txt", &text, err);
    if (status == WF_OK)
        status = staging_write(&w->files, "summary.json", &object.text, err);
    if (status == WF_OK)
        status = staging_keep(&w->files, "summary.txt", err);
    if (status == WF_OK)
        status = staging_keep(&w->files, "summary.json", err);
    if (status == WF_OK)
        status = staging_publish(&w->files, err);
    if (status == WF_OK && asked->json)
        fputs(object.text.bytes, stdout);
    else if (status == WF_OK)
        printf("%s\n%s/%s, %zu pictures, summary.txt and summary.json\n", text.bytes, asked->output,
               PAGE, n_pictures);
    json_release(&object);
    wfi_text_release(&text);
    return status;
}

static wf_status make_report(work *w, const settings *asked, wf_error *err)
{
    WFI_TRY(staging_begin(&w->files, asked->output, err));
    WFI_TRY(gnuplot_check(w->files.folder, err));
    WFI_TRY(survey_make(&w->survey, asked->operand, err));
    w->page = (page){.survey = &w->survey, .files = &w->files, .all = asked->all};
    WFI_TRY(page_write(&w->page, PAGE, err));
    progress_end(&w->bar);
    return write_summaries(w, asked, err);
}

static wf_status run(const settings *asked, wf_error *err)
{
    work w = {.bar = progress_start("report")};
    w.survey.tick = tick;
    w.survey.context = &w;
    const wf_status status = make_report(&w, asked, err);
    progress_end(&w.bar);
    staging_end(&w.files);
    wfi_text_release(&w.page.body);
    survey_release(&w.survey);
    return status;
}

static const option option_folder = {.name = "output",
                                     .letter = 'o',
                                     .value = "FOLDER",
                                     .help =
                                         "folder for the page and its pictures; made if missing",
                                     .offset = offsetof(settings, output),
                                     .kind = OPTION_TEXT,
                                     .required = true};
static const option option_all = {.name = "all",
                                  .help = "draw every baseline, however many there are",
                                  .offset = offsetof(settings, all),
                                  .kind = OPTION_FLAG};
static const option *const options[] = {&option_folder, &option_all, &option_json, NULL};

const verb verb_report = {
    .name = "report",
    .summary = "what a FITS-IDI file shows: a page of verdicts, fringes, spectra",
    .operand = "OUT.fits",
    .details = "Writes report.html, one page for any browser, with a verdict on each station,\n"
               "fringes in residual delay and rate, spectra, autocorrelations, weights, clocks,\n"
               "u,v coverage and losses; the same pictures as PNG files; and summary.txt and\n"
               "summary.json with the numbers of every baseline, band and product. The files\n"
               "appear together when all are done. Pictures are drawn by gnuplot.\n",
    .options = options,
    .run = run,
};
