/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stretches of a FITS-IDI file, and one baseline's visibilities over a stretch. */
#include <whitefringe/fringe.h>

#include <math.h>
#include <stdbool.h>

#include "base/memory.h"
#include "base/status.h"

static const size_t BYTES_MAX = (size_t)1 << 28;
/* Part of an integration by which times may differ and still be the same, or on one grid. */
static const double TOLERANCE = 0.01;

typedef struct integration {
    wf_instant middle;
    wf_instant start;
    double length_s;
    size_t i_source;
    size_t first_row;
    size_t n_rows;
} integration;

typedef struct pair {
    size_t i;
    size_t j;
} pair;

struct wf_stretches {
    wf_fits_idi_reader *reader;
    pair *pairs; /* [n_rows of the file] */
    integration *integrations;
    size_t n_integrations;
    size_t integration_capacity;
    wf_stretch *stretches;
    size_t n;
    size_t capacity;
    size_t n_times_max;
};

static bool belongs(const integration *to, const wf_fits_idi_row *row)
{
    return row->i_source == to->i_source &&
           fabs(wf_instant_difference_s(row->middle, to->middle)) < TOLERANCE * to->length_s;
}

static wf_status add_row(wf_stretches *s, const wf_fits_idi_row *row, size_t i_row, wf_error *err)
{
    s->pairs[i_row] = (pair){row->i_station, row->j_station};
    integration *last = s->n_integrations > 0 ? &s->integrations[s->n_integrations - 1] : NULL;
    if (last != NULL && belongs(last, row)) {
        last->n_rows++;
        return WF_OK;
    }
    if (last != NULL && wf_instant_difference_s(row->middle, last->middle) < 0) {
        char text[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(text, row->middle, 3);
        return wfi_fail(err, WF_UNSUPPORTED,
                        "row %zu of the visibilities is of %s, earlier than the row before; "
                        "stretches are found in files in order of time only: sort it",
                        i_row + 1, text);
    }
    WFI_TRY(wfi_array_reserve(&s->integrations, &s->integration_capacity, s->n_integrations + 1,
                              sizeof *s->integrations, "the integrations of a file", err));
    s->integrations[s->n_integrations++] =
        (integration){.middle = row->middle,
                      .start = wf_instant_add(row->middle, -0.5 * row->length_s),
                      .length_s = row->length_s,
                      .i_source = row->i_source,
                      .first_row = i_row,
                      .n_rows = 1};
    return WF_OK;
}

static wf_status index_rows(wf_stretches *s, wf_error *err)
{
    const size_t n_rows = wf_fits_idi_describe(s->reader)->n_rows;
    WFI_TRY(wfi_allocate(&s->pairs, n_rows, sizeof *s->pairs, "the rows of a file", err));
    for (size_t i = 0; i < n_rows; i++) {
        wf_fits_idi_row row = {0};
        WFI_TRY(wf_fits_idi_read(s->reader, i, &row, err));
        WFI_TRY(add_row(s, &row, i, err));
    }
    return WF_OK;
}

/* The last integration of a scan may be shorter: it starts on the grid, and ends the stretch. */
static bool follows(const integration *next, const integration *last, double interval_s)
{
    const double step_s = wf_instant_difference_s(next->start, last->start);
    return next->i_source == last->i_source && last->length_s > (1 - TOLERANCE) * interval_s &&
           fabs(step_s - interval_s) < TOLERANCE * interval_s;
}

static wf_status add_stretch(wf_stretches *s, size_t i_first, size_t n_times, wf_error *err)
{
    const integration *first = &s->integrations[i_first];
    const double span_s =
        wf_instant_difference_s(s->integrations[i_first + n_times - 1].start, first->start);
    WFI_TRY(wfi_array_reserve(&s->stretches, &s->capacity, s->n + 1, sizeof *s->stretches,
                              "the stretches of a file", err));
    s->stretches[s->n++] =
        (wf_stretch){.i_source = first->i_source,
                     .start = first->start,
                     /* lengths are single precision in the file; times are not */
                     .interval_s = n_times > 1 ? span_s / (double)(n_times - 1) : first->length_s,
                     .n_times = n_times,
                     .i_first = i_first};
    return WF_OK;
}

static wf_status add_in_parts(wf_stretches *s, size_t i_first, size_t n_times, wf_error *err)
{
    const size_t n_parts = (n_times + s->n_times_max - 1) / s->n_times_max;
    for (size_t k = 0; k < n_parts; k++) {
        const size_t begin = k * n_times / n_parts;
        const size_t end = (k + 1) * n_times / n_parts;
        WFI_TRY(add_stretch(s, i_first + begin, end - begin, err));
    }
    return WF_OK;
}

static wf_status find_stretches(wf_stretches *s, wf_error *err)
{
    for (size_t i = 0; i < s->n_integrations;) {
        const integration *all = s->integrations;
        size_t n = 1;
        while (i + n < s->n_integrations && follows(&all[i + n], &all[i + n - 1], all[i].length_s))
            n++;
        WFI_TRY(add_in_parts(s, i, n, err));
        i += n;
    }
    return WF_OK;
}

/* Twofold padding of both axes, rounded up to smooth numbers, stays under five times the cells. */
static size_t times_max(const wf_fits_idi_info *info)
{
    const size_t row_bytes =
        sizeof(float complex) * info->n_bands * info->n_products * info->n_channels;
    const size_t by_bytes = BYTES_MAX / row_bytes;
    const size_t by_cells = WF_FRINGE_CELLS_MAX / 5 / info->n_channels;
    const size_t n = by_bytes < by_cells ? by_bytes : by_cells;
    return n > 0 ? n : 1;
}

wf_status wf_stretches_create(wf_stretches **out, wf_fits_idi_reader *reader, wf_error *err)
{
    *out = NULL;
    wf_stretches *s = NULL;
    WFI_TRY(wfi_allocate(&s, 1, sizeof *s, "the stretches of a file", err));
    s->reader = reader;
    s->n_times_max = times_max(wf_fits_idi_describe(reader));
    wf_status status = index_rows(s, err);
    if (status == WF_OK)
        status = find_stretches(s, err);
    if (status == WF_OK)
        *out = s;
    else
        wf_stretches_destroy(s);
    return status;
}

void wf_stretches_destroy(wf_stretches *stretches)
{
    if (stretches == NULL)
        return;
    wfi_free(stretches->pairs);
    wfi_free(stretches->integrations);
    wfi_free(stretches->stretches);
    wfi_free(stretches);
}

size_t wf_stretches_n(const wf_stretches *stretches)
{
    return stretches->n;
}

const wf_stretch *wf_stretches_get(const wf_stretches *stretches, size_t i_stretch)
{
    return &stretches->stretches[i_stretch];
}

/* A row's [n_bands][n_channels][n_products] into the data's order. */
static void store(wf_stretch_data *data, const wf_fits_idi_row *row, size_t t)
{
    const wf_fits_idi_info *info = data->info;
    const size_t n_times = data->stretch->n_times;
    for (size_t b = 0; b < info->n_bands; b++) {
        for (size_t p = 0; p < info->n_products; p++) {
            const size_t place = (b * info->n_products + p) * n_times + t;
            data->weight[place] = row->weight[b * info->n_products + p];
            for (size_t c = 0; c < info->n_channels; c++)
                data->visibility[place * info->n_channels + c] =
                    row->visibility[(b * info->n_channels + c) * info->n_products + p];
        }
    }
}

static wf_status read_integration(wf_stretch_data *data, const wf_stretches *s, size_t t, pair of,
                                  wf_fits_idi_row *row, wf_error *err)
{
    const integration *from = &s->integrations[data->stretch->i_first + t];
    for (size_t i = from->first_row; i < from->first_row + from->n_rows; i++) {
        if (s->pairs[i].i != of.i || s->pairs[i].j != of.j)
            continue;
        WFI_TRY(wf_fits_idi_read(s->reader, i, row, err));
        store(data, row, t);
        data->n_rows++;
        break;
    }
    return WF_OK;
}

static wf_status read_all(wf_stretch_data *data, const wf_stretches *s, pair of, wf_error *err)
{
    const wf_fits_idi_info *info = data->info;
    const size_t n_columns = info->n_bands * info->n_products;
    wf_fits_idi_row row = {0};
    wf_status status = wfi_allocate(&row.visibility, n_columns * info->n_channels,
                                    sizeof *row.visibility, "a row of visibilities", err);
    if (status == WF_OK)
        status = wfi_allocate(&row.weight, n_columns, sizeof *row.weight, "a row's weights", err);
    for (size_t t = 0; t < data->stretch->n_times && status == WF_OK; t++)
        status = read_integration(data, s, t, of, &row, err);
    wfi_free(row.visibility);
    wfi_free(row.weight);
    return status;
}

wf_status wf_stretch_read(wf_stretch_data **out, const wf_stretches *stretches, size_t i_stretch,
                          size_t i_station, size_t j_station, wf_error *err)
{
    *out = NULL;
    wf_stretch_data *data = NULL;
    WFI_TRY(wfi_allocate(&data, 1, sizeof *data, "a stretch of visibilities", err));
    data->info = wf_fits_idi_describe(stretches->reader);
    data->stretch = &stretches->stretches[i_stretch];
    const size_t n_columns = data->info->n_bands * data->info->n_products * data->stretch->n_times;
    wf_status status = wfi_allocate(&data->visibility, n_columns * data->info->n_channels,
                                    sizeof *data->visibility, "a stretch of visibilities", err);
    if (status == WF_OK)
        status = wfi_allocate(&data->weight, n_columns, sizeof *data->weight, "a stretch's weights",
                              err);
    if (status == WF_OK)
        status = read_all(data, stretches, (pair){i_station, j_station}, err);
    if (status == WF_OK)
        *out = data;
    else
        wf_stretch_data_destroy(data);
    return status;
}

void wf_stretch_data_destroy(wf_stretch_data *data)
{
    if (data == NULL)
        return;
    wfi_free(data->visibility);
    wfi_free(data->weight);
    wfi_free(data);
}

wf_fringe_input wf_stretch_input(const wf_stretch_data *data, size_t i_band, size_t i_product)
{
    const wf_fits_idi_info *info = data->info;
    const size_t place = (i_band * info->n_products + i_product) * data->stretch->n_times;
    return (wf_fringe_input){.visibility = data->visibility + place * info->n_channels,
                             .weight = data->weight + place,
                             .n_times = data->stretch->n_times,
                             .n_channels = info->n_channels,
                             .interval_s = data->stretch->interval_s,
                             .channel_width_hz = info->channel_width_hz,
                             .first_channel_hz = info->band_first_hz[i_band]};
}
