/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the columns of a binary table stand in its rows, and numbers out of raw rows. */
#ifndef WFI_VISIBILITY_FITS_LAYOUT_H
#define WFI_VISIBILITY_FITS_LAYOUT_H

#include <fitsio.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

typedef struct wfi_fits_field {
    char name[72];
    char type;     /* as in TFORM; 0: of no kind that is read here */
    size_t repeat; /* 0: the column is not there */
    size_t offset; /* bytes from the start of the row */
} wfi_fits_field;

/** The current HDU as a binary table. Start from {0}; release it. */
typedef struct wfi_fits_layout {
    char table[72]; /* EXTNAME, for messages */
    wfi_fits_field *fields;
    size_t n_fields;
    size_t row_bytes;
    int64_t n_rows;
} wfi_fits_layout;

/** given   file_bytes  length of the file
 *  status  OK | FORMAT: the file ends within the table, or its columns do not fill its rows
 *          | UNSUPPORTED: rows beyond 1 GiB | MEMORY
 */
wf_status wfi_fits_layout_read(wfi_fits_layout *layout, fitsfile *file, const char *path,
                               int64_t file_bytes, wf_error *err);
void wfi_fits_layout_release(wfi_fits_layout *layout);

/** The column with the first of the names [n] that is there, in upper or lower case, with numbers
 *  (`is_text` false) or text and at least one element.
 *
 *  status  OK | FORMAT: there is none, named
 */
wf_status wfi_fits_layout_find(wfi_fits_field *out, const wfi_fits_layout *layout, const char *path,
                               const char *const *names, size_t n, int is_text, wf_error *err);

/** Element i of a numeric column. */
double wfi_fits_number(const wfi_fits_field *field, const uint8_t *row, size_t i);

/** A text without the blanks after it, cut to the capacity, what is no ASCII as '?'. */
void wfi_fits_text(char *out, size_t capacity, const wfi_fits_field *field, const uint8_t *row);

#endif
