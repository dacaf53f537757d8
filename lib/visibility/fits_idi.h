/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of a FITS-IDI file that stand around the visibilities.
 *
 *  Source of all tables, columns, keywords: the FITS Interferometry Data Interchange Convention,
 *  AIPS Memo 114 (revised), in the FITS registry of conventions.
 */
#ifndef WFI_VISIBILITY_FITS_IDI_H
#define WFI_VISIBILITY_FITS_IDI_H

#include <fitsio.h>
#include <stdbool.h>
#include <whitefringe/visibility.h>

#include "visibility/fits_table.h"

/** Antenna numbers go into BASELINE = 256 i + j. */
enum { WFI_FITS_IDI_STATIONS_MAX = 255 };

/** Earth orientation at 0h UTC of the reference day. */
typedef struct wfi_fits_idi_orientation {
    double ut1_minus_utc_s;
    double pole_x_rad;
    double pole_y_rad;
} wfi_fits_idi_orientation;

/** What the tables are made from, checked. Borrows observation and options. */
typedef struct wfi_fits_idi_setup {
    const wf_observation *observation;
    const wf_fits_idi_options *options;
    int32_t reference_mjd; /* the UTC day of the first scan's start */
    wf_instant reference_0h;
    char reference_date[16];
    wfi_fits_idi_orientation orientation;
    double reference_hz; /* centre of the first channel of the first band */
    double channel_width_hz;
    int first_product_code;
    bool linear; /* X and Y */
} wfi_fits_idi_setup;

/** status  OK | ARGUMENT: what the convention cannot hold; the message says what | RANGE: Earth
 *          orientation does not cover the day */
wf_status wfi_fits_idi_prepare(wfi_fits_idi_setup *setup, const wf_observation *observation,
                               const wf_delay_model *model, const wf_fits_idi_options *options,
                               wf_error *err);

/** Days from 0h of the reference day. */
double wfi_fits_idi_days(const wfi_fits_idi_setup *setup, wf_instant t);

/** The parts, in the order of the file. `fits` is CFITSIO's inherited status; the wf_status tells
 *  of memory alone. */
void wfi_fits_idi_write_primary(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits);
wf_status wfi_fits_idi_write_array_geometry(const wfi_fits_idi_setup *setup, fitsfile *file,
                                            int *fits, wf_error *err);
wf_status wfi_fits_idi_write_source(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                    wf_error *err);
wf_status wfi_fits_idi_write_antenna(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                     wf_error *err);
wf_status wfi_fits_idi_write_frequency(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                       wf_error *err);
wf_status wfi_fits_idi_write_model(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                   wf_error *err);

/** The keywords that every table has. */
void wfi_fits_idi_write_keywords(const wfi_fits_idi_setup *setup, fitsfile *file, int revision,
                                 int *fits);

#endif
