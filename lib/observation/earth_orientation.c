/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a job takes Earth orientation from: a file, or days that stand in the job. */
#include <erfam.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

/* The interpolation between days takes four of them. */
enum { DAYS_LEAST = 4 };

/* 0.1 s: dates are written to no better. */
static const double STEP_TOLERANCE_DAYS = 1e-6;
static const double LONGEST_STEP_DAYS = 5.0;

/* The pole has stayed within 0.7 arcsec since 1900, UT1 within 0.9 s of UTC by its definition, and
 * the celestial pole within 2 mas of the model (IERS EOP C04, IERS Bulletin D): wider limits catch
 * wrong units alone. */
static const wfi_quantity POLE = {.expected = "an angle in arcsec, within +-2",
                                  .least = -2.0,
                                  .most = 2.0,
                                  .remedy = "divide by 1000 what is in mas"};
static const wfi_quantity UT1 = {.expected = "UT1 - UTC in s, within +-1",
                                 .least = -1.0,
                                 .most = 1.0,
                                 .remedy = "divide by 1000 what is in ms"};
/* UTC with leap seconds starts in 1972; a day number of six digits is a Julian date. */
static const wfi_quantity MJD = {.expected = "a modified Julian day, from 41317 (1972) to 99999",
                                 .least = 41317.0,
                                 .most = 99999.0,
                                 .remedy = "it is the Julian date less 2400000.5"};
/* The trend of UT1 errs by 1 ms after ten days; over 30 by 5 ms, 8 ns at the equator. */
static const wfi_quantity EXTRAPOLATE = {
    .expected = "a whole number of days, from 0 to 30", .least = 0.0, .most = 30.0};
static const wfi_quantity CELESTIAL = {.expected = "an angle in mas, within +-50",
                                       .least = -50.0,
                                       .most = 50.0,
                                       .remedy = "it is an offset from the IAU 2006/2000A pole"};

/* A date, 0h of which is meant, or a time. */
static wf_status read_date(const wfi_place *place, const char *text, wf_earth_orientation_day *day)
{
    char time[64];
    wf_error cause = WF_ERROR_INIT;
    wf_instant t;
    int32_t second_of_day = 0;
    snprintf(time, sizeof time, "%.40s%s", text, strlen(text) == 10 ? "T00:00:00" : "");
    if (wf_instant_parse(&t, time, &cause) != WF_OK)
        return wfi_place_fail(place, "date",
                              "expected a date such as 2026-02-28, or a time such as "
                              "2026-02-28T06:00:00, found \"%.60s\"",
                              text);
    wf_instant_utc(t, &day->mjd, &second_of_day);
    day->second_of_day = second_of_day + t.fraction;
    return WF_OK;
}

static wf_status read_mjd(const wfi_place *place, const char *text, wf_earth_orientation_day *day)
{
    double mjd = 0;
    WFI_TRY(wfi_read_number(place, "mjd", text, &MJD, &mjd));
    day->mjd = (int32_t)floor(mjd);
    /* five days' worth of digits behind the point hold a second; more would be rounding */
    day->second_of_day = nearbyint((mjd - floor(mjd)) * 86400.0 * 1e3) / 1e3;
    return WF_OK;
}

static wf_status read_epoch(const wfi_place *place, const wfi_raw_earth_orientation_day *raw,
                            wf_earth_orientation_day *day)
{
    if (raw->date == NULL && raw->mjd == NULL)
        return wfi_place_fail(place, NULL, "date is missing (or mjd); add one");
    if (raw->date != NULL && raw->mjd != NULL)
        return wfi_place_fail(place, "mjd", "date is given too; keep one of them");
    return raw->date != NULL ? read_date(place, raw->date, day) : read_mjd(place, raw->mjd, day);
}

static wf_status read_angle(const wfi_place *place, const char *key, const char *text,
                            const wfi_quantity *quantity, double unit_arcsec, double *out_rad)
{
    if (text == NULL)
        return WF_OK;
    WFI_TRY(wfi_read_number(place, key, text, quantity, out_rad));
    *out_rad *= unit_arcsec * ERFA_DAS2R;
    return WF_OK;
}

static wf_status read_day(const wfi_place *place, const wfi_raw_earth_orientation_day *raw,
                          wf_earth_orientation_day *day)
{
    WFI_TRY(read_epoch(place, raw, day));
    WFI_TRY(read_angle(place, "pole_x_arcsec", raw->pole_x_arcsec, &POLE, 1.0, &day->pole_x_rad));
    WFI_TRY(read_angle(place, "pole_y_arcsec", raw->pole_y_arcsec, &POLE, 1.0, &day->pole_y_rad));
    WFI_TRY(wfi_read_number(place, "ut1_minus_utc_s", raw->ut1_minus_utc_s, &UT1,
                            &day->ut1_minus_utc_s));
    WFI_TRY(read_angle(place, "celestial_dx_mas", raw->celestial_dx_mas, &CELESTIAL, 1e-3,
                       &day->celestial_pole_dx_rad));
    return read_angle(place, "celestial_dy_mas", raw->celestial_dy_mas, &CELESTIAL, 1e-3,
                      &day->celestial_pole_dy_rad);
}

static double step_days(const wf_earth_orientation_day *days, size_t i)
{
    return days[i].mjd - days[i - 1].mjd +
           (days[i].second_of_day - days[i - 1].second_of_day) / 86400.0;
}

/* Even steps, so that a missing row shows. */
static wf_status check_step(const wfi_place *place, const wfi_raw_earth_orientation_day *raw,
                            const wf_earth_orientation_day *days, size_t i)
{
    const double first = step_days(days, 1);
    const double step = step_days(days, i);
    if (first > 0.0 && first <= LONGEST_STEP_DAYS && fabs(step - first) <= STEP_TOLERANCE_DAYS)
        return WF_OK;
    const char *key = raw[i].date != NULL ? "date" : "mjd";
    const char *found = raw[i].date != NULL ? raw[i].date : raw[i].mjd;
    const char *before = raw[i - 1].date != NULL ? raw[i - 1].date : raw[i - 1].mjd;
    if (first == 1.0 || i == 1)
        return wfi_place_fail(
            place, key,
            "expected the day after %.60s, found %.60s; list the days in order, one apart", before,
            found);
    return wfi_place_fail(place, key,
                          "expected %.6g days after %.60s, found %.60s; list the rows in order, in "
                          "even steps of 5 days at most",
                          first, before, found);
}

static wf_status read_days(const wfi_build *build, const wfi_raw_earth_orientation *raw)
{
    wf_earth_orientation_day *days = NULL;
    WFI_TRY(wfi_allocate(&days, raw->days_count, sizeof *days, "Earth orientation", build->err));
    build->observation->earth_orientation.days = days;
    build->observation->earth_orientation.n_days = raw->days_count;
    for (size_t i = 0; i < raw->days_count; i++) {
        const wfi_place place =
            wfi_place_at(build->document, build->err, "earth_orientation.days[%zu]", i);
        WFI_TRY(read_day(&place, &raw->days[i], &days[i]));
        if (i > 0)
            WFI_TRY(check_step(&place, raw->days, days, i));
    }
    return WF_OK;
}

static bool needs_model(const wf_observation *observation)
{
    for (size_t i = 0; i < observation->n_stations; i++) {
        if (observation->stations[i].delay_table_path == NULL)
            return true;
    }
    return false;
}

/* One of finals2000a, c04 and days. */
static wf_status check_given(const wfi_place *place, const wfi_raw_earth_orientation *raw)
{
    const char *file = raw->finals2000a != NULL ? "finals2000a" : raw->c04 != NULL ? "c04" : NULL;
    if (file == NULL && raw->days == NULL)
        return wfi_place_fail(place, NULL, "finals2000a, c04 or days is missing; add one");
    if (raw->finals2000a != NULL && raw->c04 != NULL)
        return wfi_place_fail(place, "c04", "finals2000a is given too; keep one of them");
    if (file != NULL && raw->days != NULL)
        return wfi_place_fail(place, "days", "%s is given too; keep one of them", file);
    if (raw->days != NULL && raw->days_count < DAYS_LEAST)
        return wfi_place_fail(place, "days",
                              "expected at least %d days, found %u; the days around "
                              "a scan are needed too",
                              DAYS_LEAST, raw->days_count);
    return WF_OK;
}

static wf_status read_options(const wfi_place *place, const wfi_raw_earth_orientation *raw,
                              wf_earth_orientation_entry *entry)
{
    static const wfi_choice models[] = {
        {"desai_sibois_2016", WF_SUBDAILY_DESAI_SIBOIS_2016},
        {"iers_2010", WF_SUBDAILY_IERS_2010},
    };
    int model = WF_SUBDAILY_DESAI_SIBOIS_2016;
    int64_t days = 0;
    if (raw->subdaily_model != NULL)
        WFI_TRY(wfi_read_choice(place, "subdaily_model", raw->subdaily_model, models,
                                sizeof models / sizeof models[0], &model));
    if (raw->extrapolate_days != NULL)
        WFI_TRY(
            wfi_read_count(place, "extrapolate_days", raw->extrapolate_days, &EXTRAPOLATE, &days));
    entry->subdaily_model = (wf_subdaily_model)model;
    entry->extrapolate_days = (int)days;
    return WF_OK;
}

static wf_status read_path(const wfi_build *build, const wfi_raw_earth_orientation *raw)
{
    const bool is_c04 = raw->c04 != NULL;
    wf_earth_orientation_entry *entry = &build->observation->earth_orientation;
    char *path = NULL;
    WFI_TRY(wfi_document_resolve(&path, build->document, is_c04 ? raw->c04 : raw->finals2000a,
                                 build->err));
    entry->path = path;
    entry->format = is_c04 ? WF_EARTH_ORIENTATION_C04 : WF_EARTH_ORIENTATION_FINALS2000A;
    return WF_OK;
}

wf_status wfi_build_earth_orientation(const wfi_build *build)
{
    const wfi_raw_earth_orientation *raw = build->raw->earth_orientation;
    if (raw == NULL && !needs_model(build->observation))
        return WF_OK;
    const wfi_place place = wfi_place_at(build->document, build->err, "earth_orientation");
    if (raw == NULL)
        return wfi_place_fail(&place, NULL,
                              "the key is missing; add it with finals2000a: FILE or c04: FILE (of "
                              "the IERS), or with days");
    WFI_TRY(check_given(&place, raw));
    WFI_TRY(read_options(&place, raw, &build->observation->earth_orientation));
    return raw->days != NULL ? read_days(build, raw) : read_path(build, raw);
}
