/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A series of Earth orientation: read, checked, and continued where a job asks for it. */
#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/c04.h"
#include "delay/constants.h"
#include "delay/eop.h"
#include "delay/finals2000a.h"
#include "delay/time_scales.h"
#include "delay/zonal_tides.h"

/* Four-point interpolation. */
enum { ROWS_LEAST = 4 };

/* No series ever came near these; beyond them a unit or a column is mistaken. Polar motion stays
 * within 0.7 arcsec, UT1-UTC within 0.9 s by the definition of UTC (ITU-R TF.460). */
static const double LARGEST_POLE_RAD = 2.0 * ERFA_DAS2R;
static const double LARGEST_UT1_MINUS_UTC_S = 1.0;
/* Celestial pole offsets stay within 1 mas; those against the IAU 1980 theory are tens of mas. */
static const double LARGEST_CELESTIAL_OFFSET_RAD = 5e-3 * ERFA_DAS2R;

/* 0.1 s: dates are written to no better. */
static const double STEP_TOLERANCE_DAYS = 1e-6;
static const double LONGEST_STEP_DAYS = 5.0;

static wf_status check_values(const wf_earth_orientation_day *day, const char *place, wf_error *err)
{
    if (fabs(day->pole_x_rad) > LARGEST_POLE_RAD || fabs(day->pole_y_rad) > LARGEST_POLE_RAD)
        return wfi_fail(err, WF_FORMAT,
                        "%s: the pole is at x = %.6g, y = %.6g arcsec; it never strays beyond 1: "
                        "check the unit",
                        place, day->pole_x_rad * ERFA_DR2AS, day->pole_y_rad * ERFA_DR2AS);
    if (fabs(day->ut1_minus_utc_s) > LARGEST_UT1_MINUS_UTC_S)
        return wfi_fail(err, WF_FORMAT,
                        "%s: UT1-UTC is %.6g s; it stays within 0.9: check the unit, and that it "
                        "is not UT1-TAI",
                        place, day->ut1_minus_utc_s);
    if (fabs(day->celestial_pole_dx_rad) > LARGEST_CELESTIAL_OFFSET_RAD ||
        fabs(day->celestial_pole_dy_rad) > LARGEST_CELESTIAL_OFFSET_RAD)
        return wfi_fail(err, WF_FORMAT,
                        "%s: the celestial pole offsets are %.6g and %.6g mas; dX and dY stay "
                        "within 1: these are dPsi and dEps of the older nutation theory, take "
                        "the series for IAU 2000A (finals2000A)",
                        place, day->celestial_pole_dx_rad * ERFA_DR2AS * 1e3,
                        day->celestial_pole_dy_rad * ERFA_DR2AS * 1e3);
    return WF_OK;
}

static double days_since_first(const wfi_eop *eop, const wf_earth_orientation_day *day)
{
    return (double)(day->mjd - eop->first_mjd) +
           (day->second_of_day - eop->first_second_of_day) / WFI_DAY_S;
}

/* The rows ascend in even steps: a missing one must not be bridged unnoticed. */
static wf_status check_step(wfi_eop *eop, const wf_earth_orientation_day *day, const char *place,
                            wf_error *err)
{
    const double since_days = days_since_first(eop, day);
    if (eop->n_days == 1 && eop->step_days == 0.0) {
        if (!(since_days > 0.0 && since_days <= LONGEST_STEP_DAYS))
            return wfi_fail(err, WF_FORMAT,
                            "%s comes %.6g days after the first; the rows must ascend in even "
                            "steps of a day, or of %g at most",
                            place, since_days, LONGEST_STEP_DAYS);
        eop->step_days = since_days;
    }
    const double last_days = (double)(eop->n_days - 1) * eop->step_days;
    if (fabs(since_days - last_days - eop->step_days) <= STEP_TOLERANCE_DAYS)
        return WF_OK;
    const double origin = eop->first_mjd + eop->first_second_of_day / WFI_DAY_S;
    if (eop->step_days == 1.0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: MJD %.10g follows MJD %.10g; the days must ascend, one day apart: "
                        "put in what is missing, or fetch the file again",
                        place, origin + since_days, origin + last_days);
    return wfi_fail(err, WF_FORMAT,
                    "%s: MJD %.10g follows MJD %.10g; the rows must ascend in even steps, %.6g "
                    "days as between the first two",
                    place, origin + since_days, origin + last_days, eop->step_days);
}

static wf_status append_row(wfi_eop *eop, const wfi_eop_day *row, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&eop->days, &eop->capacity, eop->n_days + 1, sizeof eop->days[0],
                              "Earth orientation", err));
    wfi_eop_day *out = &eop->days[eop->n_days++];
    *out = *row;
    double tt_jd[2];
    wfi_tt(row->start, tt_jd);
    out->zonal_tides_s = wfi_zonal_tides_s(wfi_centuries(tt_jd));
    return WF_OK;
}

wf_status wfi_eop_append(wfi_eop *eop, const wf_earth_orientation_day *day, const char *place,
                         wf_error *err)
{
    if (eop->n_days > 0) {
        WFI_TRY(check_step(eop, day, place, err));
    } else {
        eop->first_mjd = day->mjd;
        eop->first_second_of_day = day->second_of_day;
    }
    WFI_TRY(check_values(day, place, err));
    const wf_instant midnight = wf_instant_of_mjd(day->mjd);
    const wfi_eop_day row = {
        .start = wf_instant_add(midnight, day->second_of_day),
        .values = {.pole_x_rad = day->pole_x_rad,
                   .pole_y_rad = day->pole_y_rad,
                   .ut1_minus_tai_s = day->ut1_minus_utc_s - wf_tai_minus_utc_s(midnight),
                   .celestial_pole_dx_rad = day->celestial_pole_dx_rad,
                   .celestial_pole_dy_rad = day->celestial_pole_dy_rad},
        .kind = day->predicted ? WFI_EOP_PREDICTED : WFI_EOP_MEASURED};
    return append_row(eop, &row, err);
}

static wf_status load_stated_days(wfi_eop *eop, const wf_earth_orientation_entry *entry,
                                  wf_error *err)
{
    WFI_TRY(wfi_string_copy(&eop->origin, "the job's earth_orientation", err));
    for (size_t i = 0; i < entry->n_days; i++) {
        const wf_earth_orientation_day *day = &entry->days[i];
        char place[96];
        snprintf(place, sizeof place, "earth_orientation: day %zu (MJD %.10g)", i + 1,
                 day->mjd + day->second_of_day / WFI_DAY_S);
        if (!isfinite(day->pole_x_rad) || !isfinite(day->pole_y_rad) ||
            !isfinite(day->ut1_minus_utc_s) || !isfinite(day->celestial_pole_dx_rad) ||
            !isfinite(day->celestial_pole_dy_rad) || !isfinite(day->second_of_day))
            return wfi_fail(err, WF_FORMAT, "%s: a value is not finite", place);
        WFI_TRY(wfi_eop_append(eop, day, place, err));
    }
    return WF_OK;
}

/* How many rows from the start on have pole and UT1. */
static size_t count_known(const wfi_eop *eop)
{
    size_t n = eop->n_days;
    while (n > 0 && (isnan(eop->days[n - 1].values.pole_x_rad) ||
                     isnan(eop->days[n - 1].values.pole_y_rad) ||
                     isnan(eop->days[n - 1].values.ut1_minus_tai_s)))
        n--;
    return n;
}

/* Celestial pole offsets end before the rest in the newest files. */
static void hold_celestial_offsets(wfi_eop *eop)
{
    for (size_t i = 1; i < eop->n_days; i++) {
        wfi_eop_day *day = &eop->days[i];
        const wfi_eop_values *before = &eop->days[i - 1].values;
        if (!isnan(day->values.celestial_pole_dx_rad) && !isnan(day->values.celestial_pole_dy_rad))
            continue;
        day->values.celestial_pole_dx_rad = before->celestial_pole_dx_rad;
        day->values.celestial_pole_dy_rad = before->celestial_pole_dy_rad;
        day->kind = WFI_EOP_EXTRAPOLATED;
    }
}

/* The row that follows the last by the trend of the last two. */
static wf_status append_trend(wfi_eop *eop, wf_error *err)
{
    const wfi_eop_day *a = &eop->days[eop->n_days - 2];
    const wfi_eop_day *b = &eop->days[eop->n_days - 1];
    const double since_days = (double)eop->n_days * eop->step_days;
    const double day = floor(since_days + eop->first_second_of_day / WFI_DAY_S);
    const double second = (since_days - day) * WFI_DAY_S + eop->first_second_of_day;
    const wf_instant midnight = wf_instant_of_mjd(eop->first_mjd + (int32_t)day);
    wfi_eop_day row = {.start = wf_instant_add(midnight, second),
                       .values = b->values,
                       .kind = WFI_EOP_EXTRAPOLATED};
    row.values.pole_x_rad += b->values.pole_x_rad - a->values.pole_x_rad;
    row.values.pole_y_rad += b->values.pole_y_rad - a->values.pole_y_rad;
    double tt_jd[2];
    wfi_tt(row.start, tt_jd);
    const double tides_s = wfi_zonal_tides_s(wfi_centuries(tt_jd));
    row.values.ut1_minus_tai_s += (b->values.ut1_minus_tai_s - a->values.ut1_minus_tai_s) +
                                  (tides_s - 2.0 * b->zonal_tides_s + a->zonal_tides_s);
    return append_row(eop, &row, err);
}

/* One row more than is asked for: interpolation needs one beyond. */
static wf_status extrapolate(wfi_eop *eop, int days, wf_error *err)
{
    eop->n_days = count_known(eop);
    if (eop->n_days < ROWS_LEAST)
        return WF_OK; /* refused by the caller */
    hold_celestial_offsets(eop);
    const size_t n = eop->n_days + (size_t)ceil(days / eop->step_days) + 1;
    while (eop->n_days < n)
        WFI_TRY(append_trend(eop, err));
    return WF_OK;
}

static wf_status read_series(wfi_eop *eop, const wf_earth_orientation_entry *entry, wf_error *err)
{
    if (entry->path == NULL)
        return entry->n_days > 0 ? load_stated_days(eop, entry, err) : WF_OK;
    eop->step_days = 1.0;
    return entry->format == WF_EARTH_ORIENTATION_C04 ? wfi_c04_read(eop, entry->path, err)
                                                     : wfi_finals2000a_read(eop, entry->path, err);
}

wf_status wfi_eop_load(wfi_eop *eop, const wf_earth_orientation_entry *entry, wf_error *err)
{
    eop->subdaily_model = entry->subdaily_model;
    WFI_TRY(read_series(eop, entry, err));
    if (eop->n_days > 0 && entry->extrapolate_days > 0)
        WFI_TRY(extrapolate(eop, entry->extrapolate_days, err));
    if (eop->origin != NULL && eop->n_days < ROWS_LEAST)
        return wfi_fail(err, WF_FORMAT,
                        "%s holds %zu days; interpolation takes at least %d: two before and two "
                        "after the scans",
                        eop->origin, eop->n_days, (int)ROWS_LEAST);
    return WF_OK;
}

void wfi_eop_release(wfi_eop *eop)
{
    wfi_free(eop->origin);
    wfi_free(eop->days);
    *eop = (wfi_eop){0};
}
