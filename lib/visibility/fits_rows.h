/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A small binary table of a FITS file, one row at a time in memory. */
#ifndef WFI_VISIBILITY_FITS_ROWS_H
#define WFI_VISIBILITY_FITS_ROWS_H

#include "visibility/fits_layout.h"

/** Begun ones are ended, also where beginning failed. */
typedef struct wfi_fits_rows {
    wfi_fits_layout layout;
    uint8_t *row; /* [layout.row_bytes] the one that was read last */
    fitsfile *file;
    const char *path;
} wfi_fits_rows;

/** Of the current HDU.
 *
 *  given   path, file_bytes  of the file, for messages and checks
 *  status  as wfi_fits_layout_read
 */
wf_status wfi_fits_rows_begin(wfi_fits_rows *rows, fitsfile *file, const char *path,
                              int64_t file_bytes, wf_error *err);
wf_status wfi_fits_rows_read(wfi_fits_rows *rows, int64_t i_row, wf_error *err);
void wfi_fits_rows_end(wfi_fits_rows *rows);

#endif
