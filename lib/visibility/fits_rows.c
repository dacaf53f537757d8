/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables are small here: row after row. */
#include "visibility/fits_rows.h"

#include "base/memory.h"
#include "base/status.h"
#include "visibility/cfitsio.h"

wf_status wfi_fits_rows_begin(wfi_fits_rows *rows, fitsfile *file, const char *path,
                              int64_t file_bytes, wf_error *err)
{
    *rows = (wfi_fits_rows){.file = file, .path = path};
    WFI_TRY(wfi_fits_layout_read(&rows->layout, file, path, file_bytes, err));
    return wfi_allocate(&rows->row, rows->layout.row_bytes, 1, "a row of a table", err);
}

wf_status wfi_fits_rows_read(wfi_fits_rows *rows, int64_t i_row, wf_error *err)
{
    int fits = 0;
    fits_read_tblbytes(rows->file, i_row + 1, 1, (LONGLONG)rows->layout.row_bytes, rows->row,
                       &fits);
    return wfi_cfitsio_check(fits, rows->path, "a table's row could not be read", WF_FORMAT, err);
}

void wfi_fits_rows_end(wfi_fits_rows *rows)
{
    wfi_fits_layout_release(&rows->layout);
    wfi_free(rows->row);
}
