/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth orientation parameters: a table of days, interpolated. */
#ifndef WFI_DELAY_EOP_H
#define WFI_DELAY_EOP_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/time.h>

/** UT1 is held against TAI, so that a leap second inside the table is no step. */
typedef struct wfi_eop_values {
    double pole_x_rad;
    double pole_y_rad;
    double ut1_minus_tai_s;
    double celestial_pole_dx_rad;
    double celestial_pole_dy_rad;
} wfi_eop_values;

/** One day, at 0h UTC. What the series does not give is NaN. */
typedef struct wfi_eop_day {
    wf_instant start;
    wfi_eop_values values;
} wfi_eop_day;

/** Start from {0}; release it. n_days = 0: nothing is known. */
typedef struct wfi_eop {
    char *origin; /* file name, or what else the values come from; stands in messages */
    int32_t first_mjd;
    wfi_eop_day *days; /* [n_days], one day apart */
    size_t n_days;
    size_t capacity;
} wfi_eop;

/** Take the days from a job: from its file, or as it states them.
 *
 *  status  OK | MISSING | FORMAT: place named | MEMORY
 */
wf_status wfi_eop_load(wfi_eop *eop, const wf_earth_orientation_entry *entry, wf_error *err);
void wfi_eop_release(wfi_eop *eop);

/** Append one day; `place` stands in front of messages. */
wf_status wfi_eop_append(wfi_eop *eop, const wf_earth_orientation_day *day, const char *place,
                         wf_error *err);

/** Values at t: four-point Lagrange interpolation of the daily values, as the IERS recommends;
 *  tidal terms are neither taken out nor added.
 *
 *  status  OK | RANGE: t before the second or after the last but one day, or a day without value
 */
wf_status wfi_eop_evaluate(const wfi_eop *eop, wf_instant t, wfi_eop_values *out, wf_error *err);

#endif
