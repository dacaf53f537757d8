/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the visibilities stand in the rows of a UV_DATA table, whoever wrote it. */
#ifndef WFI_VISIBILITY_FITS_IDI_UV_LAYOUT_H
#define WFI_VISIBILITY_FITS_IDI_UV_LAYOUT_H

#include <stdbool.h>
#include <whitefringe/visibility.h>

#include "visibility/fits_layout.h"

/** Number of elements of an axis of FLUX, and how far apart they stand; elements of FLUX. */
typedef struct wfi_uv_axis {
    size_t n;
    size_t stride;
} wfi_uv_axis;

/** Start from {0}; release it. */
typedef struct wfi_uv_layout {
    wfi_fits_layout table;
    wfi_fits_field uvw[3], date, time, baseline, source, frequency, interval, weight, flux;
    wfi_uv_axis component, product, channel, band;
    int first_product_code;
    bool divides_by_weight; /* the reader has to */
    size_t label_bytes;     /* of a row, that hold all but FLUX */
} wfi_uv_layout;

/** Read the header of the current HDU, a UV_DATA table.
 *
 *  status  OK | FORMAT: what is missing or does not fit, named | UNSUPPORTED | MEMORY
 */
wf_status wfi_uv_layout_read(wfi_uv_layout *layout, fitsfile *file, const char *path,
                             int64_t file_bytes, wf_error *err);
void wfi_uv_layout_release(wfi_uv_layout *layout);

/** Weights of a row, [n_bands][n_products]: 0 where nothing is valid. `row` is whole. */
void wfi_uv_decode_weights(float *weight, const wfi_uv_layout *layout, const uint8_t *row);

/** Visibilities of a row in the house sense, [n_bands][n_channels][n_products]; 0 where the weight
 *  is. `descending`: the channels stand from the highest frequency down. */
void wfi_uv_decode_visibilities(float complex *visibility, const wfi_uv_layout *layout,
                                bool descending, const uint8_t *row);

#endif
