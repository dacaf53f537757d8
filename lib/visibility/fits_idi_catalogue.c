/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stations, sources and frequencies, and in what order channels stand. */
#include "visibility/fits_idi_catalogue.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "visibility/cfitsio.h"
#include "visibility/fits_rows.h"

enum { ANTENNA_NUMBER_MAX = 255, SOURCE_NUMBER_MAX = 65535 };

/* The names of a table, each at the place of its number. */
typedef struct name_list {
    const char *const *name_columns;
    size_t n_name_columns;
    const char *const *number_columns;
    size_t n_number_columns;
    size_t number_max;
} name_list;

static wf_status read_name(wfi_fits_rows *reader, const name_list *list, const wfi_fits_field *name,
                           const wfi_fits_field *number, int64_t i_row,
                           char (**names)[WF_NAME_BYTES], size_t *capacity, size_t *n_names,
                           wf_error *err)
{
    WFI_TRY(wfi_fits_rows_read(reader, i_row, err));
    const double value = wfi_fits_number(number, reader->row, 0);
    if (!(value >= 1.0 && value <= (double)list->number_max) || value != floor(value))
        return wfi_fail(err, WF_FORMAT, "%s: table %s, row %lld: %s is %g, expected 1 to %zu",
                        reader->path, reader->layout.table, (long long)i_row + 1, number->name,
                        value, list->number_max);
    const size_t i = (size_t)value - 1;
    WFI_TRY(wfi_array_reserve(names, capacity, i + 1, sizeof **names, "names", err));
    wfi_fits_text((*names)[i], sizeof(*names)[i], name, reader->row);
    if (i + 1 > *n_names)
        *n_names = i + 1;
    return WF_OK;
}

static wf_status read_all_names(wfi_fits_rows *reader, const name_list *list,
                                char (**names)[WF_NAME_BYTES], size_t *n_names, wf_error *err)
{
    wfi_fits_field name;
    wfi_fits_field number;
    size_t capacity = 0;
    WFI_TRY(wfi_fits_layout_find(&name, &reader->layout, reader->path, list->name_columns,
                                 list->n_name_columns, 1, err));
    WFI_TRY(wfi_fits_layout_find(&number, &reader->layout, reader->path, list->number_columns,
                                 list->n_number_columns, 0, err));
    for (int64_t i = 0; i < reader->layout.n_rows; i++)
        WFI_TRY(read_name(reader, list, &name, &number, i, names, &capacity, n_names, err));
    return WF_OK;
}

static wf_status read_names(const name_list *list, fitsfile *file, const char *path,
                            int64_t file_bytes, char (**names)[WF_NAME_BYTES], size_t *n_names,
                            wf_error *err)
{
    wfi_fits_rows reader;
    wf_status status = wfi_fits_rows_begin(&reader, file, path, file_bytes, err);
    if (status == WF_OK)
        status = read_all_names(&reader, list, names, n_names, err);
    wfi_fits_rows_end(&reader);
    return status;
}

/* Without a word on it times are TAI (the convention's default). */
static bool times_are_tai(fitsfile *file)
{
    static const char *const keys[] = {"TIMESYS", "TIMSYS"};
    for (size_t i = 0; i < 2; i++) {
        char scale[FLEN_VALUE] = "";
        int fits = 0;
        fits_read_key(file, TSTRING, keys[i], scale, NULL, &fits);
        if (fits == 0)
            return strncmp(scale, "UTC", 3) != 0;
    }
    return true;
}

wf_status wfi_catalogue_read_stations(wfi_catalogue *catalogue, fitsfile *file, const char *path,
                                      int64_t file_bytes, wf_error *err)
{
    static const char *const name[] = {"ANNAME"};
    static const char *const number[] = {"NOSTA"};
    const name_list list = {name, 1, number, 1, ANTENNA_NUMBER_MAX};
    catalogue->times_are_tai = times_are_tai(file);
    return read_names(&list, file, path, file_bytes, &catalogue->station_names,
                      &catalogue->info.n_stations, err);
}

wf_status wfi_catalogue_read_sources(wfi_catalogue *catalogue, fitsfile *file, const char *path,
                                     int64_t file_bytes, wf_error *err)
{
    static const char *const name[] = {"SOURCE"};
    static const char *const number[] = {"SOURCE_ID", "ID_NO."};
    const name_list list = {name, 1, number, 2, SOURCE_NUMBER_MAX};
    return read_names(&list, file, path, file_bytes, &catalogue->source_names,
                      &catalogue->info.n_sources, err);
}

typedef struct frequency_keys {
    double reference_hz;
    double reference_pixel;
    double channel_width_hz;
    long n_channels;
} frequency_keys;

static wf_status read_frequency_keys(frequency_keys *keys, fitsfile *file, const char *path,
                                     wf_error *err)
{
    int fits = 0;
    fits_read_key(file, TDOUBLE, "REF_FREQ", &keys->reference_hz, NULL, &fits);
    fits_read_key(file, TDOUBLE, "REF_PIXL", &keys->reference_pixel, NULL, &fits);
    fits_read_key(file, TDOUBLE, "CHAN_BW", &keys->channel_width_hz, NULL, &fits);
    fits_read_key(file, TLONG, "NO_CHAN", &keys->n_channels, NULL, &fits);
    WFI_TRY(wfi_cfitsio_check(fits, path,
                              "table FREQUENCY: REF_FREQ, REF_PIXL, CHAN_BW or NO_CHAN could not "
                              "be read",
                              WF_FORMAT, err));
    if (!isfinite(keys->reference_hz) || !isfinite(keys->reference_pixel) ||
        !isfinite(keys->channel_width_hz) || keys->channel_width_hz == 0.0 || keys->n_channels < 1)
        return wfi_fail(err, WF_FORMAT, "%s: table FREQUENCY: CHAN_BW %g, NO_CHAN %ld make no grid",
                        path, keys->channel_width_hz, keys->n_channels);
    return WF_OK;
}

/* The width stands in single precision in the rows, in double in CHAN_BW. */
static bool same_width(double in_row_hz, double in_header_hz)
{
    return fabs(in_row_hz - in_header_hz) <= 1e-6 * fabs(in_header_hz);
}

static wf_status read_bands(wfi_catalogue *catalogue, wfi_fits_rows *reader, wf_error *err)
{
    static const char *const offset_name[] = {"BANDFREQ"};
    static const char *const width_name[] = {"CH_WIDTH"};
    wfi_fits_field offset;
    wfi_fits_field width;
    frequency_keys keys = {0};
    const char *path = reader->path;
    WFI_TRY(wfi_fits_layout_find(&offset, &reader->layout, path, offset_name, 1, 0, err));
    WFI_TRY(wfi_fits_layout_find(&width, &reader->layout, path, width_name, 1, 0, err));
    WFI_TRY(read_frequency_keys(&keys, reader->file, path, err));
    if (reader->layout.n_rows < 1 || width.repeat != offset.repeat)
        return wfi_fail(err, WF_FORMAT,
                        "%s: table FREQUENCY: no row, or CH_WIDTH of %zu for %zu bands", path,
                        width.repeat, offset.repeat);
    WFI_TRY(wfi_fits_rows_read(reader, 0, err));
    catalogue->info.n_bands = offset.repeat;
    WFI_TRY(wfi_allocate(&catalogue->band_first_hz, offset.repeat, sizeof(double), "bands", err));
    catalogue->descending = wfi_fits_number(&width, reader->row, 0) < 0.0;
    const double step_hz =
        catalogue->descending ? -fabs(keys.channel_width_hz) : fabs(keys.channel_width_hz);
    const double first = catalogue->descending ? (double)keys.n_channels : 1.0;
    for (size_t i = 0; i < offset.repeat; i++) {
        if (!same_width(wfi_fits_number(&width, reader->row, i), step_hz))
            return wfi_fail(err, WF_UNSUPPORTED,
                            "%s: table FREQUENCY: band %zu has channels of %g Hz, CHAN_BW is %g: "
                            "bands of different width are not read",
                            path, i + 1, wfi_fits_number(&width, reader->row, i),
                            keys.channel_width_hz);
        catalogue->band_first_hz[i] = keys.reference_hz + wfi_fits_number(&offset, reader->row, i) +
                                      (first - keys.reference_pixel) * step_hz;
    }
    catalogue->info.channel_width_hz = fabs(step_hz);
    return WF_OK;
}

wf_status wfi_catalogue_read_bands(wfi_catalogue *catalogue, fitsfile *file, const char *path,
                                   int64_t file_bytes, wf_error *err)
{
    wfi_fits_rows reader;
    wf_status status = wfi_fits_rows_begin(&reader, file, path, file_bytes, err);
    if (status == WF_OK)
        status = read_bands(catalogue, &reader, err);
    wfi_fits_rows_end(&reader);
    return status;
}

void wfi_catalogue_release(wfi_catalogue *catalogue)
{
    wfi_free(catalogue->station_names);
    wfi_free(catalogue->source_names);
    wfi_free(catalogue->band_first_hz);
    *catalogue = (wfi_catalogue){0};
}
