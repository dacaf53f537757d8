/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows are read raw, in blocks: CFITSIO's access by column would pass over every row once a
 * column. */
#include "visibility/fits_layout.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "visibility/cfitsio.h"

static const int64_t ROW_BYTES_MAX = INT64_C(1) << 30;

typedef struct kind {
    int code; /* CFITSIO's */
    char type;
    size_t bytes;
} kind;

static const kind *find_kind(int code)
{
    static const kind kinds[] = {
        {TDOUBLE, 'D', 8}, {TFLOAT, 'E', 4},     {TLONG, 'J', 4},  {TSHORT, 'I', 2},
        {TBYTE, 'B', 1},   {TSTRING, 'A', 1},    {TLOGICAL, 0, 1}, {TLONGLONG, 0, 8},
        {TCOMPLEX, 0, 8},  {TDBLCOMPLEX, 0, 16},
    };
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (kinds[i].code == code)
            return &kinds[i];
    }
    return NULL;
}

/* Returns the width in bytes of what a column takes in the row; 0 where that cannot be read: an
 * array that stands elsewhere. A column with a scale of its own is none that can be read raw. */
static size_t set_field(wfi_fits_field *field, fitsfile *file, int i_column, int *fits)
{
    int code = 0;
    LONGLONG repeat = 0;
    double scale = 1.0;
    double zero = 0.0;
    fits_get_bcolparmsll(file, i_column, field->name, NULL, NULL, &repeat, &scale, &zero, NULL,
                         NULL, fits);
    fits_get_coltypell(file, i_column, &code, &repeat, NULL, fits);
    if (*fits != 0 || repeat < 0)
        return 0;
    if (code == TBIT)
        return (size_t)(repeat + 7) / 8;
    const kind *known = find_kind(code);
    if (known == NULL)
        return 0;
    field->type = known->type;
    if (scale != 1.0 || zero != 0.0)
        field->type = 0;
    field->repeat = (size_t)repeat;
    return (size_t)repeat * known->bytes;
}

static wf_status check_extent(const wfi_fits_layout *layout, fitsfile *file, const char *path,
                              int64_t file_bytes, int64_t row_bytes, int *fits, wf_error *err)
{
    LONGLONG data_end = 0;
    fits_get_hduaddrll(file, NULL, NULL, &data_end, fits);
    if (*fits != 0)
        return WF_OK;
    if (row_bytes < 0 || row_bytes > ROW_BYTES_MAX)
        return wfi_fail(err, WF_UNSUPPORTED, "%s: table %s: rows of %lld bytes; at most %lld", path,
                        layout->table, (long long)row_bytes, (long long)ROW_BYTES_MAX);
    if (data_end > file_bytes)
        return wfi_fail(err, WF_FORMAT,
                        "%s: table %s ends at byte %lld, the file at %lld: the file is cut short",
                        path, layout->table, (long long)data_end, (long long)file_bytes);
    return WF_OK;
}

static wf_status set_fields(wfi_fits_layout *layout, fitsfile *file, const char *path, int *fits,
                            wf_error *err)
{
    size_t offset = 0;
    for (size_t i = 0; i < layout->n_fields && *fits == 0; i++) {
        wfi_fits_field *field = &layout->fields[i];
        field->offset = offset;
        const size_t width = set_field(field, file, (int)i + 1, fits);
        if (width > layout->row_bytes - offset) {
            offset = SIZE_MAX;
            break;
        }
        offset += width;
    }
    if (*fits == 0 && offset != layout->row_bytes)
        return wfi_fail(err, WF_FORMAT,
                        "%s: table %s: its columns do not fill its rows of %zu bytes", path,
                        layout->table, layout->row_bytes);
    return WF_OK;
}

wf_status wfi_fits_layout_read(wfi_fits_layout *layout, fitsfile *file, const char *path,
                               int64_t file_bytes, wf_error *err)
{
    int fits = 0;
    int n_columns = 0;
    LONGLONG row_bytes = 0;
    LONGLONG n_rows = 0;
    fits_read_key(file, TSTRING, "EXTNAME", layout->table, NULL, &fits);
    fits_get_num_cols(file, &n_columns, &fits);
    fits_read_key(file, TLONGLONG, "NAXIS1", &row_bytes, NULL, &fits);
    fits_get_num_rowsll(file, &n_rows, &fits);
    WFI_TRY(check_extent(layout, file, path, file_bytes, row_bytes, &fits, err));
    if (fits == 0) {
        layout->row_bytes = (size_t)row_bytes;
        layout->n_rows = n_rows;
        layout->n_fields = (size_t)n_columns;
        WFI_TRY(wfi_allocate(&layout->fields, layout->n_fields, sizeof layout->fields[0],
                             "columns of a table", err));
        WFI_TRY(set_fields(layout, file, path, &fits, err));
    }
    return wfi_cfitsio_check(fits, path, "a table's header could not be read", WF_FORMAT, err);
}

void wfi_fits_layout_release(wfi_fits_layout *layout)
{
    wfi_free(layout->fields);
    *layout = (wfi_fits_layout){0};
}

wf_status wfi_fits_layout_find(wfi_fits_field *out, const wfi_fits_layout *layout, const char *path,
                               const char *const *names, size_t n, int is_text, wf_error *err)
{
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; i < layout->n_fields; i++) {
            const wfi_fits_field *field = &layout->fields[i];
            if (strcasecmp(field->name, names[k]) != 0)
                continue;
            *out = *field;
            if (field->type != 0 && (field->type == 'A') == (is_text != 0) && field->repeat > 0)
                return WF_OK;
            return wfi_fail(err, WF_FORMAT, "%s: table %s: column %s holds no %s that can be read",
                            path, layout->table, names[k], is_text ? "text" : "number");
        }
    }
    return wfi_fail(err, WF_FORMAT, "%s: table %s has no column %s", path, layout->table, names[0]);
}

static double float_of(uint32_t word)
{
    float value;
    memcpy(&value, &word, sizeof value);
    return value;
}

static double double_of(uint64_t word)
{
    double value;
    memcpy(&value, &word, sizeof value);
    return value;
}

double wfi_fits_number(const wfi_fits_field *field, const uint8_t *row, size_t i)
{
    const uint8_t *p = row + field->offset;
    switch (field->type) {
    case 'D':
        return double_of(wfi_be64(p + 8 * i));
    case 'E':
        return float_of(wfi_be32(p + 4 * i));
    case 'J':
        return (int32_t)wfi_be32(p + 4 * i);
    case 'I':
        return (int16_t)(p[2 * i] << 8 | p[2 * i + 1]);
    default:
        return p[i];
    }
}

void wfi_fits_text(char *out, size_t capacity, const wfi_fits_field *field, const uint8_t *row)
{
    size_t n = 0;
    const char *text = (const char *)row + field->offset;
    while (n < field->repeat && n < capacity - 1 && text[n] != '\0') {
        out[n] = text[n] < ' ' || text[n] > '~' ? '?' : text[n];
        n++;
    }
    while (n > 0 && out[n - 1] == ' ')
        n--;
    out[n] = '\0';
}
