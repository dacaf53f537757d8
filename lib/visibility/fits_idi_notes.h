/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a FITS-IDI file tells besides its visibilities. */
#ifndef WFI_VISIBILITY_FITS_IDI_NOTES_H
#define WFI_VISIBILITY_FITS_IDI_NOTES_H

#include <fitsio.h>
#include <whitefringe/visibility.h>

#include "visibility/fits_idi_catalogue.h"

/** Reads history and tables of an open file; its current HDU is another one afterwards. */
wf_status wfi_notes_read(wf_fits_idi_notes **out, fitsfile *file, const char *path,
                         int64_t file_bytes, const wfi_catalogue *catalogue, wf_error *err);

#endif
