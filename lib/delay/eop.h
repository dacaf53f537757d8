/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth orientation parameters: a series, usually of days, interpolated. */
#ifndef WFI_DELAY_EOP_H
#define WFI_DELAY_EOP_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/time.h>

#include "delay/subdaily.h"

/** UT1 is held against TAI, so that a leap second inside the series is no step. */
typedef struct wfi_eop_values {
    double pole_x_rad;
    double pole_y_rad;
    double ut1_minus_tai_s;
    double celestial_pole_dx_rad;
    double celestial_pole_dy_rad;
} wfi_eop_values;

/** What interpolated values lack. */
typedef struct wfi_eop_shifts {
    wfi_rotation_shift zonal_tides; /* UT1 only: what keeping them out of the interpolation adds */
    wfi_rotation_shift subdaily;    /* ocean tides, by the model that the job names */
    wfi_rotation_shift libration;
} wfi_eop_shifts;

typedef enum wfi_eop_kind {
    WFI_EOP_MEASURED,
    WFI_EOP_PREDICTED,
    WFI_EOP_EXTRAPOLATED,
    WFI_EOP_N_KINDS
} wfi_eop_kind;

/** One row of the series, usually of 0h UTC. What the series does not give is NaN. */
typedef struct wfi_eop_day {
    wf_instant start;
    wfi_eop_values values;
    double zonal_tides_s; /* in UT1 */
    wfi_eop_kind kind;
} wfi_eop_day;

/** Start from {0}; release it. n_days = 0: nothing is known. */
typedef struct wfi_eop {
    char *origin; /* file name, or what else the values come from; stands in messages */
    int32_t first_mjd;
    double first_second_of_day;
    double step_days;  /* between rows; 0: as between the first two */
    wfi_eop_day *days; /* [n_days] */
    size_t n_days;
    size_t capacity;
    wf_subdaily_model subdaily_model;
} wfi_eop;

/** Take the days from a job: from its file, or as it states them; continue them where it says so.
 *
 *  Continued are the trend of the last two rows in x, y and UT1 without zonal tides, and the last
 *  celestial pole offsets. Over 2014 and 2018 of finals2000A the trend errs after one day by 0.06
 * ms in UT1 and 0.3 mas in the pole (RMS), after five by 0.45 ms and 2.2 mas; holding the last
 * values would err by 0.8 ms and 1.3 mas, and 4 ms and 6 mas. status  OK | MISSING | FORMAT: place
 * named | MEMORY
 */
wf_status wfi_eop_load(wfi_eop *eop, const wf_earth_orientation_entry *entry, wf_error *err);
void wfi_eop_release(wfi_eop *eop);

/** Append one row; `place` stands in front of messages. */
wf_status wfi_eop_append(wfi_eop *eop, const wf_earth_orientation_day *day, const char *place,
                         wf_error *err);

/** Values at t: four-point Lagrange interpolation of the rows as they stand.
 *
 *  status  OK | RANGE: t before the second or after the last but one row, or a row without value
 *  source  IERS Gazette 13 (1997): Lagrange interpolation of daily values
 */
wf_status wfi_eop_evaluate(const wfi_eop *eop, wf_instant t, wfi_eop_values *out, wf_error *err);

/** What is to be added to `values`, those of wfi_eop_evaluate at t: each part on its own.
 *
 *  status  as wfi_eop_evaluate
 *  source  IERS Conventions (2010) sections 5.5.1, 5.5.3, 8.1 and 8.2; Desai and Sibois 2016
 */
wf_status wfi_eop_shifts_at(const wfi_eop *eop, wf_instant t, const wfi_eop_values *values,
                            wfi_eop_shifts *out, wf_error *err);

/** Add a shift to the pole and UT1. */
void wfi_eop_add(wfi_eop_values *values, const wfi_rotation_shift *shift);

/** The row after t: interpolation is smooth up to it. False where none follows. */
bool wfi_eop_next_row(const wfi_eop *eop, wf_instant t, wf_instant *next);

/** How many rows of each kind the values from `first` to `last` are made from. */
void wfi_eop_count(const wfi_eop *eop, wf_instant first, wf_instant last,
                   size_t n[WFI_EOP_N_KINDS]);

#endif
