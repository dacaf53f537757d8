/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Measuring all baselines and stretches of a file. */
#include "report/survey.h"

#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "plot.h"
#include "report/survey_fit.h"
#include "report/survey_stability.h"
#include "report/survey_uv.h"

bool report_row_found(const report_row *row)
{
    return row->measured && row->peak.false_alarm < REPORT_FALSE_ALARM_MAX;
}

bool survey_fit_found(const survey_fit *fit)
{
    return fit->measured && fit->fit.false_alarm < REPORT_FALSE_ALARM_MAX;
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

static wf_status fit_baseline(survey *s, survey_baseline *b, const wf_stretch_data *data,
                              wf_error *err)
{
    const size_t n = s->info->n_products;
    const size_t first = (s->n_baselines - 1) * n;
    WFI_TRY(wfi_array_reserve(&s->fits, &s->fit_capacity, first + n, sizeof *s->fits,
                              "the table of fits", err));
    for (size_t p = 0; p < n; p++)
        WFI_TRY(survey_fit_product(&s->fits[first + p], data, p, err));
    const survey_fit *best = survey_best_fit(s, b);
    return survey_fit_found(best) ? survey_measure_stability(&b->stability, data, best, err)
                                  : WF_OK;
}

static wf_status measure_baseline(survey *s, const wf_stretch_data *data, report_row like,
                                  wf_error *err)
{
    const size_t n = data->info->n_bands * data->info->n_products;
    WFI_TRY(wfi_array_reserve(&s->baselines, &s->baseline_capacity, s->n_baselines + 1,
                              sizeof *s->baselines, "the baselines of a file", err));
    WFI_TRY(wfi_array_reserve(&s->rows, &s->row_capacity, s->n_rows + n, sizeof *s->rows,
                              "the table of fringes", err));
    survey_baseline *b = &s->baselines[s->n_baselines++];
    *b = (survey_baseline){.i_stretch = like.i_stretch,
                           .i_station = like.i_station,
                           .j_station = like.j_station,
                           .i_first = s->n_rows};
    for (size_t i = 0; i < n; i++) {
        like.i_band = i / data->info->n_products;
        like.i_product = i % data->info->n_products;
        WFI_TRY(measure_row(&like, data, err));
        s->rows[s->n_rows++] = like;
    }
    return fit_baseline(s, b, data, err);
}

/* Mean over bands and products of the weight of one integration. */
static double weight_at(const wf_stretch_data *data, size_t i_time)
{
    const size_t n = data->info->n_bands * data->info->n_products;
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += fmax(data->weight[i * data->stretch->n_times + i_time], 0);
    return sum / (double)n;
}

/* A station is at least as valid as the best of its baselines. */
static void note_weights(survey *s, const wf_stretch_data *data, size_t i_station)
{
    float *weight = s->weight + i_station * s->n_times + data->stretch->i_first;
    for (size_t t = 0; t < data->stretch->n_times; t++)
        weight[t] = fmaxf(weight[t], (float)weight_at(data, t));
}

static wf_status survey_pair_of(survey *s, report_row like, wf_error *err)
{
    wf_stretch_data *data = NULL;
    const wf_status told = s->tick(s->context);
    if (told != WF_OK)
        return told;
    WFI_TRY(
        wf_stretch_read(&data, s->stretches, like.i_stretch, like.i_station, like.j_station, err));
    wf_status status = WF_OK;
    if (data->n_rows > 0) {
        note_weights(s, data, like.i_station);
        note_weights(s, data, like.j_station);
        if (like.i_station != like.j_station)
            status = measure_baseline(s, data, like, err);
    }
    wf_stretch_data_destroy(data);
    return status;
}

static wf_status survey_stretch(survey *s, size_t i_stretch, wf_error *err)
{
    report_row like = {.i_stretch = i_stretch};
    s->first_baseline[i_stretch] = s->n_baselines;
    for (like.i_station = 0; like.i_station < s->info->n_stations; like.i_station++) {
        for (like.j_station = like.i_station; like.j_station < s->info->n_stations;
             like.j_station++)
            WFI_TRY(survey_pair_of(s, like, err));
    }
    s->first_baseline[i_stretch + 1] = s->n_baselines;
    WFI_TRY(survey_solve(s, i_stretch, err));
    return survey_separate_stations(s, i_stretch, err);
}

static wf_status make_room(survey *s, wf_error *err)
{
    const size_t n = wf_stretches_n(s->stretches);
    const wf_stretch *last = wf_stretches_get(s->stretches, n - 1);
    WFI_TRY(wfi_allocate(&s->first_baseline, n + 1, sizeof *s->first_baseline, "stretches", err));
    WFI_TRY(wfi_allocate(&s->solutions, n, sizeof *s->solutions, "solutions", err));
    WFI_TRY(wfi_allocate(&s->stabilities, n, sizeof *s->stabilities, "stabilities", err));
    s->n_times = last->i_first + last->n_times;
    WFI_TRY(wfi_allocate(&s->weight, s->info->n_stations * s->n_times, sizeof *s->weight, "weights",
                         err));
    for (size_t i = 0; i < s->info->n_stations * s->n_times; i++)
        s->weight[i] = -1;
    return WF_OK;
}

wf_status survey_make(survey *s, const char *file, wf_error *err)
{
    s->file = file;
    WFI_TRY(wf_fits_idi_open(&s->reader, file, err));
    s->info = wf_fits_idi_describe(s->reader);
    if (s->info->n_rows == 0)
        return wfi_fail(err, WF_MISSING, "%s: holds no visibilities to report on", file);
    WFI_TRY(wf_fits_idi_read_notes(&s->notes, s->reader, err));
    WFI_TRY(wf_stretches_create(&s->stretches, s->reader, err));
    WFI_TRY(make_room(s, err));
    for (size_t i = 0; i < wf_stretches_n(s->stretches); i++)
        WFI_TRY(survey_stretch(s, i, err));
    return survey_uv_read(s, err);
}

static void release_stretches(survey *s)
{
    const size_t n = s->stretches != NULL ? wf_stretches_n(s->stretches) : 0;
    for (size_t i = 0; i < n; i++) {
        if (s->solutions != NULL)
            survey_solution_release(&s->solutions[i]);
        if (s->stabilities != NULL)
            survey_stretch_stability_release(&s->stabilities[i]);
    }
    wfi_free(s->solutions);
    wfi_free(s->stabilities);
}

void survey_release(survey *s)
{
    for (size_t i = 0; i < s->n_baselines; i++)
        survey_stability_release(&s->baselines[i].stability);
    release_stretches(s);
    wfi_free(s->fits);
    wfi_free(s->first_baseline);
    wfi_free(s->rows);
    wfi_free(s->baselines);
    wfi_free(s->weight);
    wfi_free(s->uv);
    wfi_free(s->extents);
    wf_stretches_destroy(s->stretches);
    wf_fits_idi_notes_destroy(s->notes);
    wf_fits_idi_close(s->reader);
    *s = (survey){0};
}

const report_row *survey_rows(const survey *s, const survey_baseline *baseline)
{
    return s->rows + baseline->i_first;
}

const report_row *survey_strongest(const survey *s, const survey_baseline *baseline)
{
    const report_row *rows = survey_rows(s, baseline);
    const size_t n = s->info->n_bands * s->info->n_products;
    size_t best = 0;
    for (size_t i = 1; i < n; i++) {
        if (rows[i].measured && (!rows[best].measured || rows[i].peak.snr > rows[best].peak.snr))
            best = i;
    }
    return &rows[best];
}

const survey_fit *survey_fits(const survey *s, const survey_baseline *baseline)
{
    return s->fits + baseline->i_first / s->info->n_bands;
}

const survey_fit *survey_best_fit(const survey *s, const survey_baseline *baseline)
{
    const survey_fit *fits = survey_fits(s, baseline);
    size_t best = 0;
    for (size_t p = 1; p < s->info->n_products; p++) {
        if (fits[p].measured && (!fits[best].measured || fits[p].fit.snr > fits[best].fit.snr))
            best = p;
    }
    return &fits[best];
}

bool survey_any_found(const survey *s, const survey_baseline *baseline)
{
    const report_row *rows = survey_rows(s, baseline);
    for (size_t i = 0; i < s->info->n_bands * s->info->n_products; i++) {
        if (report_row_found(&rows[i]))
            return true;
    }
    for (size_t p = 0; p < s->info->n_products; p++) {
        if (survey_fit_found(&survey_fits(s, baseline)[p]))
            return true;
    }
    return false;
}

double survey_snr(const survey *s, const survey_baseline *baseline)
{
    const survey_fit *fit = survey_best_fit(s, baseline);
    const report_row *row = survey_strongest(s, baseline);
    return fmax(fit->measured ? fit->fit.snr : 0, row->measured ? row->peak.snr : 0);
}

void survey_pair(char text[SURVEY_PAIR_BYTES], const survey *s, size_t i_station, size_t j_station)
{
    snprintf(text, SURVEY_PAIR_BYTES, "%s – %s", s->info->station_names[i_station],
             s->info->station_names[j_station]);
}

const char *survey_product(const survey *s, size_t i_product)
{
    return plot_product_name(s->info->first_product_code - (int)i_product);
}

double survey_band_middle_hz(const survey *s, size_t i_band)
{
    return s->info->band_first_hz[i_band] +
           0.5 * (double)(s->info->n_channels - 1) * s->info->channel_width_hz;
}

double survey_middle_hz(const survey *s)
{
    double sum = 0;
    for (size_t b = 0; b < s->info->n_bands; b++)
        sum += survey_band_middle_hz(s, b);
    return sum / (double)s->info->n_bands;
}
