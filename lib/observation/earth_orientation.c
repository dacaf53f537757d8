/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a job takes Earth orientation from: a file, or days that stand in the job. */
#include <erfa.h>
#include <erfam.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

/* The interpolation between days takes four of them. */
enum { DAYS_LEAST = 4 };

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
static const wfi_quantity CELESTIAL = {.expected = "an angle in mas, within +-50",
                                       .least = -50.0,
                                       .most = 50.0,
                                       .remedy = "it is an offset from the IAU 2006/2000A pole"};

static wf_status read_date(const wfi_place *place, const char *text, int32_t *mjd)
{
    int year = 0;
    int month = 0;
    int day = 0;
    int n = 0;
    double jd_of_mjd_0 = 0;
    double found = 0;
    const bool shape = strlen(text) == 10 && strspn(text, "0123456789-") == 10 &&
                       sscanf(text, "%4d-%2d-%2d%n", &year, &month, &day, &n) == 3 && n == 10;
    if (!shape || eraCal2jd(year, month, day, &jd_of_mjd_0, &found) != 0)
        return wfi_place_fail(place, "date", "expected a date such as 2026-02-28, found \"%.60s\"",
                              text);
    *mjd = (int32_t)found;
    return WF_OK;
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
    WFI_TRY(read_date(place, raw->date, &day->mjd));
    WFI_TRY(read_angle(place, "pole_x_arcsec", raw->pole_x_arcsec, &POLE, 1.0, &day->pole_x_rad));
    WFI_TRY(read_angle(place, "pole_y_arcsec", raw->pole_y_arcsec, &POLE, 1.0, &day->pole_y_rad));
    WFI_TRY(wfi_read_number(place, "ut1_minus_utc_s", raw->ut1_minus_utc_s, &UT1,
                            &day->ut1_minus_utc_s));
    WFI_TRY(read_angle(place, "celestial_dx_mas", raw->celestial_dx_mas, &CELESTIAL, 1e-3,
                       &day->celestial_pole_dx_rad));
    return read_angle(place, "celestial_dy_mas", raw->celestial_dy_mas, &CELESTIAL, 1e-3,
                      &day->celestial_pole_dy_rad);
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
        if (i > 0 && days[i].mjd != days[i - 1].mjd + 1)
            return wfi_place_fail(&place, "date",
                                  "expected the day after %s, found %s; list the "
                                  "days in order, one apart",
                                  raw->days[i - 1].date, raw->days[i].date);
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

wf_status wfi_build_earth_orientation(const wfi_build *build)
{
    const wfi_raw_earth_orientation *raw = build->raw->earth_orientation;
    if (raw == NULL && !needs_model(build->observation))
        return WF_OK;
    const wfi_place place = wfi_place_at(build->document, build->err, "earth_orientation");
    if (raw == NULL)
        return wfi_place_fail(&place, NULL,
                              "the key is missing; add it with finals2000a: FILE (of "
                              "the IERS), or with days");
    if (raw->finals2000a == NULL && raw->days == NULL)
        return wfi_place_fail(&place, NULL, "finals2000a or days is missing; add one");
    if (raw->finals2000a != NULL && raw->days != NULL)
        return wfi_place_fail(&place, "days", "finals2000a is given too; keep one of them");
    if (raw->days != NULL && raw->days_count < DAYS_LEAST)
        return wfi_place_fail(&place, "days",
                              "expected at least %d days, found %u; the days around "
                              "a scan are needed too",
                              DAYS_LEAST, raw->days_count);
    if (raw->days != NULL)
        return read_days(build, raw);
    char *path = NULL;
    WFI_TRY(wfi_document_resolve(&path, build->document, raw->finals2000a, build->err));
    build->observation->earth_orientation.path = path;
    return WF_OK;
}
