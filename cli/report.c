/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe report: what a FITS-IDI file shows, in pictures and a table. */
#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/fringe.h>
#include <whitefringe/visibility.h>

#include "base/memory.h"
#include "base/status.h"
#include "gnuplot.h"
#include "plot_pages.h"
#include "progress.h"
#include "report_row.h"
#include "staging.h"
#include "verbs.h"

enum { FILE_NAME_BYTES = 128 };
static const char SCRIPT[] = "page.gp";

typedef struct work {
    wf_fits_idi_reader *reader;
    wf_stretches *stretches;
    staging files;
    report result;
    progress bar;
    int64_t n_done;
} work;

/* Counts what was done, draws the bar, and asks for a signal. */
static wf_status tick(work *w)
{
    const size_t n = w->result.info->n_stations;
    const wf_progress now = {.n_done = w->n_done,
                             .n_total = (int64_t)(wf_stretches_n(w->stretches) * n * (n + 1) / 2),
                             .unit = "baselines"};
    w->n_done++;
    return progress_show(&w->bar, &now) == 0 ? WF_OK : WF_CANCELLED;
}

/* Letters, digits, '+' and '-' stay. */
static void sanitise(char out[WF_NAME_BYTES], const char *name)
{
    snprintf(out, WF_NAME_BYTES, "%s", name);
    for (char *p = out; *p != '\0'; p++) {
        if (!isalnum((unsigned char)*p) && *p != '+' && *p != '-')
            *p = '_';
    }
}

/* A station's name within a file's name. One that becomes the same as another's takes its number
 * along, after a sign that no name keeps. */
static void file_part(char text[WF_NAME_BYTES + 8], const wf_fits_idi_info *info, size_t i_station)
{
    char mine[WF_NAME_BYTES];
    char other[WF_NAME_BYTES];
    bool alone = true;
    sanitise(mine, info->station_names[i_station]);
    for (size_t i = 0; i < info->n_stations; i++) {
        sanitise(other, info->station_names[i]);
        alone = alone && (i == i_station || strcmp(other, mine) != 0);
    }
    if (alone)
        snprintf(text, WF_NAME_BYTES + 8, "%s", mine);
    else
        snprintf(text, WF_NAME_BYTES + 8, "%s~%zu", mine, i_station + 1);
}

/* Draw a script into a picture that is to be published. */
static wf_status draw(work *w, const wfi_text *script, const char *picture, wf_error *err)
{
    WFI_TRY(staging_write(&w->files, SCRIPT, script, err));
    WFI_TRY(gnuplot_run(w->files.folder, SCRIPT, picture, err));
    return staging_keep(&w->files, picture, err);
}

static double mean_weight(const wf_fringe_input *input)
{
    double sum = 0;
    for (size_t t = 0; t < input->n_times; t++)
        sum += input->weight[t] > 0 ? input->weight[t] : 0;
    return sum / (double)input->n_times;
}

/* Too little that is valid is a result of its own, not a failure. */
static wf_status measure_row(report_row *row, const wf_stretch_data *data, wf_error *err)
{
    const wf_fringe_input input = wf_stretch_input(data, row->i_band, row->i_product);
    wf_error trouble = WF_ERROR_INIT;
    row->valid_fraction = mean_weight(&input);
    const wf_status status = wf_fringe_transform(NULL, &row->peak, &input, &trouble);
    row->measured = status == WF_OK;
    return status == WF_OK || status == WF_RANGE ? WF_OK
                                                 : wfi_fail(err, status, "%s", trouble.message);
}

/* Add the rows of one baseline; their first is at result.rows + i_first. */
static wf_status measure_baseline(work *w, const wf_stretch_data *data, report_row like,
                                  size_t *i_first, wf_error *err)
{
    report *r = &w->result;
    const size_t n = data->info->n_bands * data->info->n_products;
    *i_first = r->n_rows;
    WFI_TRY(wfi_array_reserve(&r->rows, &r->capacity, r->n_rows + n, sizeof *r->rows,
                              "the table of fringes", err));
    for (size_t i = 0; i < n; i++) {
        like.i_band = i / data->info->n_products;
        like.i_product = i % data->info->n_products;
        WFI_TRY(measure_row(&like, data, err));
        r->rows[r->n_rows++] = like;
    }
    return WF_OK;
}

static wf_status draw_baseline(work *w, const wf_stretch_data *data, const report_row *rows,
                               wf_error *err)
{
    char first[WF_NAME_BYTES + 8];
    char second[WF_NAME_BYTES + 8];
    char picture[FILE_NAME_BYTES];
    file_part(first, data->info, rows->i_station);
    file_part(second, data->info, rows->j_station);
    snprintf(picture, sizeof picture, "stretch%02zu_%s-%s.png", rows->i_stretch + 1, first, second);
    wfi_text script = {0};
    wf_status status = plot_fringe_page(&script, picture, data, rows, err);
    if (status == WF_OK)
        status = draw(w, &script, picture, err);
    wfi_text_release(&script);
    return status;
}

static wf_status report_baseline(work *w, report_row like, wf_error *err)
{
    wf_stretch_data *data = NULL;
    WFI_TRY(tick(w));
    WFI_TRY(
        wf_stretch_read(&data, w->stretches, like.i_stretch, like.i_station, like.j_station, err));
    wf_status status = WF_OK;
    size_t i_first = 0;
    if (data->n_rows > 0) {
        status = measure_baseline(w, data, like, &i_first, err);
        if (status == WF_OK)
            status = draw_baseline(w, data, w->result.rows + i_first, err);
    }
    wf_stretch_data_destroy(data);
    return status;
}

/* Add a station's mean spectra to a page; a station without autocorrelations is left out. */
static wf_status add_spectra(work *w, plot_spectra *page, size_t i_stretch, size_t i_station,
                             wf_error *err)
{
    const wf_fits_idi_info *info = page->info;
    wf_stretch_data *data = NULL;
    WFI_TRY(tick(w));
    WFI_TRY(wf_stretch_read(&data, w->stretches, i_stretch, i_station, i_station, err));
    if (data->n_rows > 0) {
        const size_t n = info->n_bands * info->n_products;
        double complex *out = page->spectra + page->n_stations * n * info->n_channels;
        for (size_t i = 0; i < n; i++) {
            const wf_fringe_input input =
                wf_stretch_input(data, i / info->n_products, i % info->n_products);
            wf_fringe_spectrum(out + i * info->n_channels, &input, 0);
        }
        page->names[page->n_stations++] = info->station_names[i_station];
    }
    wf_stretch_data_destroy(data);
    return WF_OK;
}

static wf_status draw_spectra(work *w, plot_spectra *page, size_t i_stretch, size_t i_page,
                              wf_error *err)
{
    char picture[FILE_NAME_BYTES];
    wfi_text script = {0};
    if (page->n_stations == 0)
        return WF_OK;
    snprintf(picture, sizeof picture, "stretch%02zu_autocorrelations%02zu.png", i_stretch + 1,
             i_page + 1);
    wf_status status = plot_autocorrelation_page(&script, picture, page, err);
    if (status == WF_OK)
        status = draw(w, &script, picture, err);
    wfi_text_release(&script);
    page->n_stations = 0;
    return status;
}

static wf_status report_autocorrelations(work *w, size_t i_stretch, wf_error *err)
{
    const wf_fits_idi_info *info = w->result.info;
    plot_spectra page = {.info = info, .stretch = wf_stretches_get(w->stretches, i_stretch)};
    WFI_TRY(wfi_allocate(&page.spectra,
                         PLOT_STATIONS_A_PAGE * info->n_bands * info->n_products * info->n_channels,
                         sizeof *page.spectra, "spectra", err));
    wf_status status = WF_OK;
    size_t i_page = 0;
    for (size_t i = 0; i < info->n_stations && status == WF_OK; i++) {
        status = add_spectra(w, &page, i_stretch, i, err);
        if (status == WF_OK && page.n_stations == PLOT_STATIONS_A_PAGE)
            status = draw_spectra(w, &page, i_stretch, i_page++, err);
    }
    if (status == WF_OK)
        status = draw_spectra(w, &page, i_stretch, i_page, err);
    wfi_free(page.spectra);
    return status;
}

static wf_status report_stretch(work *w, size_t i_stretch, wf_error *err)
{
    const size_t n = w->result.info->n_stations;
    report_row like = {.i_stretch = i_stretch};
    for (like.i_station = 0; like.i_station < n; like.i_station++) {
        for (like.j_station = like.i_station + 1; like.j_station < n; like.j_station++)
            WFI_TRY(report_baseline(w, like, err));
    }
    return report_autocorrelations(w, i_stretch, err);
}

/* The summaries as files, and one of them on stdout. */
static wf_status write_summaries(work *w, const settings *asked, wf_error *err)
{
    json object = {0};
    wfi_text text = {0};
    w->result.pictures = w->files.kept;
    w->result.n_pictures = w->files.n_kept;
    report_append_text(&text, &w->result);
    report_append_json(&object, &w->result);
    wfi_text_append(&object.text, "\n");
    wf_status status = staging_write(&w->files, "summary.txt", &text, err);
    if (status == WF_OK)
        status = staging_write(&w->files, "summary.json", &object.text, err);
    const size_t n_pictures = w->files.n_kept;
    if (status == WF_OK)
        status = staging_keep(&w->files, "summary.txt", err);
    if (status == WF_OK)
        status = staging_keep(&w->files, "summary.json", err);
    if (status == WF_OK)
        status = staging_publish(&w->files, err);
    if (status == WF_OK && asked->json)
        fputs(object.text.bytes, stdout);
    else if (status == WF_OK)
        printf("%s\n%zu pictures, summary.txt and summary.json in %s\n", text.bytes, n_pictures,
               asked->output);
    json_release(&object);
    wfi_text_release(&text);
    return status;
}

static wf_status make_report(work *w, const settings *asked, wf_error *err)
{
    WFI_TRY(wf_fits_idi_open(&w->reader, asked->operand, err));
    w->result.file = asked->operand;
    w->result.info = wf_fits_idi_describe(w->reader);
    if (w->result.info->n_rows == 0)
        return wfi_fail(err, WF_MISSING, "%s: holds no visibilities to report on", asked->operand);
    WFI_TRY(wf_stretches_create(&w->stretches, w->reader, err));
    w->result.stretches = w->stretches;
    WFI_TRY(staging_begin(&w->files, asked->output, err));
    WFI_TRY(gnuplot_check(w->files.folder, err));
    for (size_t i = 0; i < wf_stretches_n(w->stretches); i++)
        WFI_TRY(report_stretch(w, i, err));
    progress_end(&w->bar);
    return write_summaries(w, asked, err);
}

static wf_status run(const settings *asked, wf_error *err)
{
    work w = {.bar = progress_start("report")};
    const wf_status status = make_report(&w, asked, err);
    progress_end(&w.bar);
    staging_end(&w.files);
    wfi_free(w.result.rows);
    wf_stretches_destroy(w.stretches);
    wf_fits_idi_close(w.reader);
    return status;
}

static const option option_folder = {.name = "output",
                                     .letter = 'o',
                                     .value = "FOLDER",
                                     .help = "folder for pictures and summaries; made if missing",
                                     .offset = offsetof(settings, output),
                                     .kind = OPTION_TEXT,
                                     .required = true};
static const option *const options[] = {&option_folder, &option_json, NULL};

const verb verb_report = {
    .name = "report",
    .summary = "what a FITS-IDI file shows: fringes and spectra, pictures and a table",
    .operand = "OUT.fits",
    .details = "For every stretch of time on one source: a picture of each baseline with its\n"
               "spectra and its fringe in residual delay and rate, pictures of the\n"
               "autocorrelations, and summary.txt and summary.json with delay, rate, amplitude,\n"
               "phase and signal-to-noise ratio of every baseline, band and product. The files\n"
               "appear together when all are done. Pictures are drawn by gnuplot.\n",
    .options = options,
    .run = run,
};
