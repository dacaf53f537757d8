/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands around the visibilities of a FITS-IDI file: stations, sources, frequencies. */
#ifndef WFI_VISIBILITY_FITS_IDI_CATALOGUE_H
#define WFI_VISIBILITY_FITS_IDI_CATALOGUE_H

#include <fitsio.h>
#include <stdbool.h>
#include <whitefringe/visibility.h>

/** Start from {0}; release it. */
typedef struct wfi_catalogue {
    wf_fits_idi_info info;
    char (*station_names)[WF_NAME_BYTES];
    char (*source_names)[WF_NAME_BYTES];
    double *band_first_hz;
    bool descending; /* channels in the file stand from the highest frequency down */
    bool times_are_tai;
} wfi_catalogue;

/** Each reads the current HDU.
 *
 *  status  OK | FORMAT: place, expected, found | UNSUPPORTED | MEMORY
 */
wf_status wfi_catalogue_read_stations(wfi_catalogue *catalogue, fitsfile *file, const char *path,
                                      int64_t file_bytes, wf_error *err);
wf_status wfi_catalogue_read_sources(wfi_catalogue *catalogue, fitsfile *file, const char *path,
                                     int64_t file_bytes, wf_error *err);
wf_status wfi_catalogue_read_bands(wfi_catalogue *catalogue, fitsfile *file, const char *path,
                                   int64_t file_bytes, wf_error *err);
void wfi_catalogue_release(wfi_catalogue *catalogue);

#endif
