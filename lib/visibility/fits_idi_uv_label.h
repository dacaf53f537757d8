/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which baseline, source and time a row of UV_DATA is of. */
#ifndef WFI_VISIBILITY_FITS_IDI_UV_LABEL_H
#define WFI_VISIBILITY_FITS_IDI_UV_LABEL_H

#include "visibility/fits_idi_catalogue.h"
#include "visibility/fits_idi_uv_layout.h"

/** Fill what a row's label says; visibility and weight are left as they are.
 *
 *  given   i_row  of the file and its path, for messages
 *          bytes  of the row
 *  status  OK | FORMAT: station, source or time of the row is none | UNSUPPORTED: a second
 *          frequency set-up
 */
wf_status wfi_uv_decode_label(wf_fits_idi_row *row, const wfi_uv_layout *layout,
                              const wfi_catalogue *catalogue, const char *path, size_t i_row,
                              const uint8_t *bytes, wf_error *err);

#endif
