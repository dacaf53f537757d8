/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pages of a report, each a gnuplot script with its data inside. */
#ifndef CLI_PLOT_PAGES_H
#define CLI_PLOT_PAGES_H

#include "base/text.h"
#include "report_row.h"

/** Spectra, fringe surface and numbers of one baseline over one stretch.
 *
 *  given  rows  [n_bands][n_products] of that baseline and stretch
 */
wf_status plot_fringe_page(wfi_text *script, const char *picture, const wf_stretch_data *data,
                           const report_row *rows, wf_error *err);

enum { PLOT_STATIONS_A_PAGE = 6 };

/** Mean autocorrelation spectra of some stations over one stretch.
 *
 *  spectra  [n_stations][n_bands][n_products][n_channels]
 *  names    [n_stations]
 */
typedef struct plot_spectra {
    const wf_fits_idi_info *info;
    const wf_stretch *stretch;
    size_t n_stations; /* at most PLOT_STATIONS_A_PAGE */
    const char *names[PLOT_STATIONS_A_PAGE];
    double complex *spectra;
} plot_spectra;

wf_status plot_autocorrelation_page(wfi_text *script, const char *picture, const plot_spectra *s,
                                    wf_error *err);

#endif
