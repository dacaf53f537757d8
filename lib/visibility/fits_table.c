/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows are put together in the file's byte order here: CFITSIO would be called once a cell. */
#include "visibility/fits_table.h"

#include <stdio.h>
#include <string.h>

#include "base/bytes.h"
#include "base/check.h"
#include "base/memory.h"
#include "base/status.h"

enum { N_COLUMNS_MAX = 24, WORD_BYTES = 24 };

static size_t bytes_of_type(char type)
{
    return type == 'D' ? 8 : type == 'A' ? 1 : 4;
}

/* CFITSIO takes its texts as pointers to what it might change. */
typedef struct words {
    char bytes[N_COLUMNS_MAX][WORD_BYTES];
    char *pointers[N_COLUMNS_MAX];
} words;

static void create_table(fitsfile *file, const char *name, const wfi_fits_column *columns,
                         size_t n_columns, int *fits)
{
    words names, forms, units;
    for (size_t i = 0; i < n_columns; i++) {
        names.pointers[i] = names.bytes[i];
        forms.pointers[i] = forms.bytes[i];
        units.pointers[i] = units.bytes[i];
        snprintf(names.bytes[i], WORD_BYTES, "%s", columns[i].name);
        snprintf(forms.bytes[i], WORD_BYTES, "%zu%c", columns[i].repeat, columns[i].type);
        snprintf(units.bytes[i], WORD_BYTES, "%s", columns[i].unit);
    }
    fits_create_tbl(file, BINARY_TBL, 0, (int)n_columns, names.pointers, forms.pointers,
                    units.pointers, name, fits);
}

wf_status wfi_fits_table_begin(wfi_fits_table *table, fitsfile *file, const char *name,
                               const wfi_fits_column *columns, size_t n_columns, size_t block_bytes,
                               int *fits, wf_error *err)
{
    WFI_CHECK(n_columns <= N_COLUMNS_MAX);
    *table = (wfi_fits_table){.file = file};
    for (size_t i = 0; i < n_columns; i++)
        table->row_bytes += columns[i].repeat * bytes_of_type(columns[i].type);
    const size_t n_rows = block_bytes / table->row_bytes;
    table->capacity = (n_rows > 0 ? n_rows : 1) * table->row_bytes;
    WFI_TRY(wfi_allocate(&table->bytes, table->capacity, 1, "rows of the output", err));
    create_table(file, name, columns, n_columns, fits);
    return WF_OK;
}

void wfi_fits_put_text(wfi_fits_table *table, const char *text, size_t width)
{
    const size_t n = strlen(text) < width ? strlen(text) : width;
    memset(table->bytes + table->n, ' ', width);
    memcpy(table->bytes + table->n, text, n);
    table->n += width;
}

static void put_word(wfi_fits_table *table, uint32_t word)
{
    wfi_put_be32(table->bytes + table->n, word);
    table->n += 4;
}

void wfi_fits_put_int32(wfi_fits_table *table, int32_t value)
{
    put_word(table, (uint32_t)value);
}

void wfi_fits_put_float(wfi_fits_table *table, double value)
{
    const float rounded = (float)value;
    uint32_t word;
    memcpy(&word, &rounded, sizeof word);
    put_word(table, word);
}

void wfi_fits_put_double(wfi_fits_table *table, double value)
{
    uint64_t word;
    memcpy(&word, &value, sizeof word);
    wfi_put_be64(table->bytes + table->n, word);
    table->n += 8;
}

void wfi_fits_repeat_int32(wfi_fits_table *table, int32_t value, size_t n)
{
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_int32(table, value);
}

void wfi_fits_repeat_float(wfi_fits_table *table, double value, size_t n)
{
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_float(table, value);
}

void wfi_fits_repeat_double(wfi_fits_table *table, double value, size_t n)
{
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_double(table, value);
}

static void flush(wfi_fits_table *table, int *fits)
{
    if (table->n > 0)
        fits_write_tblbytes(table->file, table->n_rows + 1, 1, (LONGLONG)table->n, table->bytes,
                            fits);
    table->n_rows += (int64_t)(table->n / table->row_bytes);
    table->n = 0;
}

void wfi_fits_table_end_row(wfi_fits_table *table, int *fits)
{
    WFI_CHECK(table->n % table->row_bytes == 0);
    if (table->n == table->capacity)
        flush(table, fits);
}

void wfi_fits_table_finish(wfi_fits_table *table, int *fits)
{
    flush(table, fits);
    wfi_fits_table_release(table);
}

void wfi_fits_table_release(wfi_fits_table *table)
{
    wfi_free(table->bytes);
    *table = (wfi_fits_table){0};
}

void wfi_fits_seal(fitsfile *file, int *fits)
{
    char text[17] = "0000000000000000";
    unsigned long data_sum = 0;
    unsigned long whole_sum = 0;
    fits_write_chksum(file, fits);
    fits_modify_comment(file, "DATASUM", "checksum of the data", fits);
    fits_modify_key_str(file, "CHECKSUM", text, "checksum of the HDU", fits);
    fits_get_chksum(file, &data_sum, &whole_sum, fits);
    fits_encode_chksum(whole_sum, 1, text);
    fits_modify_key_str(file, "CHECKSUM", text, "&", fits);
}
