/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Binary tables of a FITS file, written row after row. */
#ifndef WFI_VISIBILITY_FITS_TABLE_H
#define WFI_VISIBILITY_FITS_TABLE_H

#include <fitsio.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

typedef struct wfi_fits_column {
    const char *name;
    const char *unit; /* "" for none */
    char type;        /* D, E, J or A, as in TFORM */
    size_t repeat;    /* may be 0 */
} wfi_fits_column;

/** A table in the making: whole rows gather in a buffer and go to the file in blocks. */
typedef struct wfi_fits_table {
    fitsfile *file;
    size_t row_bytes;
    uint8_t *bytes;
    size_t capacity; /* bytes, a multiple of row_bytes */
    size_t n;        /* bytes filled */
    int64_t n_rows;  /* in the file */
} wfi_fits_table;

/** Make the next HDU a table with these columns and no row.
 *
 *  given     block_bytes  of the buffer; at least one row in any case
 *            fits         CFITSIO's inherited status
 *  status    OK | MEMORY
 */
wf_status wfi_fits_table_begin(wfi_fits_table *table, fitsfile *file, const char *name,
                               const wfi_fits_column *columns, size_t n_columns, size_t block_bytes,
                               int *fits, wf_error *err);

/** Put the next cells of a row, in the order of the columns. */
void wfi_fits_put_text(wfi_fits_table *table, const char *text, size_t width); /* blank padded */
void wfi_fits_put_int32(wfi_fits_table *table, int32_t value);
void wfi_fits_put_float(wfi_fits_table *table, double value);
void wfi_fits_put_double(wfi_fits_table *table, double value);
void wfi_fits_repeat_int32(wfi_fits_table *table, int32_t value, size_t n);
void wfi_fits_repeat_float(wfi_fits_table *table, double value, size_t n);
void wfi_fits_repeat_double(wfi_fits_table *table, double value, size_t n);

/** A row is complete: make room for the next. */
void wfi_fits_table_end_row(wfi_fits_table *table, int *fits);

/** Write the rows that are still in the buffer, and free it. */
void wfi_fits_table_finish(wfi_fits_table *table, int *fits);

/** Free the buffer, rows and all. Accepts {0}. */
void wfi_fits_table_release(wfi_fits_table *table);

/** Give the current, complete HDU its DATASUM and CHECKSUM; without the date that CFITSIO puts
 *  into their comments, so that the same input makes the same file. */
void wfi_fits_seal(fitsfile *file, int *fits);

#endif
