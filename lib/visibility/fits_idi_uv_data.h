/* SPDX-License-Identifier: GPL-3.0-or-later */
/* UV_DATA: the visibilities of a FITS-IDI file. */
#ifndef WFI_VISIBILITY_FITS_IDI_UV_DATA_H
#define WFI_VISIBILITY_FITS_IDI_UV_DATA_H

#include "visibility/fits_idi.h"

/** Begin the table: header, no row. */
wf_status wfi_fits_idi_begin_uv_data(wfi_fits_table *table, const wfi_fits_idi_setup *setup,
                                     fitsfile *file, int *fits, wf_error *err);

/** Put the row of baseline i-j, number i_baseline of the integration, and end it; a row without
 *  weight is left out. What is not finite becomes 0 with weight 0. */
void wfi_fits_idi_put_visibilities(wfi_fits_table *table, const wfi_fits_idi_setup *setup,
                                   const wf_integration *integration, size_t i_baseline,
                                   wf_baseline baseline, int *fits);

#endif
