/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a job says of the air above a station, and how low the station may look. */
#include <erfam.h>
#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

/* Records of the weather lie within these: 300 hPa is the pressure on Mount Everest. */
static const wfi_quantity PRESSURE = {.expected = "a pressure in hPa, from 300 to 1100",
                                      .least = 300.0,
                                      .most = 1100.0,
                                      .remedy = "1 hPa is 1 mbar, or 100 Pa"};
static const wfi_quantity TEMPERATURE = {.expected = "a temperature in deg C, from -100 to 70",
                                         .least = -100.0,
                                         .most = 70.0,
                                         .remedy = "take 273.15 from what is in K"};
static const wfi_quantity HUMIDITY = {.expected = "a relative humidity, from 0 to 1",
                                      .least = 0.0,
                                      .most = 1.0,
                                      .remedy = "divide by 100 what is in per cent"};
static const wfi_quantity COEFFICIENT = {
    .expected = "a coefficient a of VMF1, from 1e-5 to 1e-2", .least = 1e-5, .most = 1e-2};
static const wfi_quantity WET_DELAY = {.expected = "a zenith wet delay in m, from -0.1 to 1",
                                       .least = -0.1,
                                       .most = 1.0,
                                       .remedy = "divide by 1000 what is in mm"};
static const wfi_quantity GRADIENT = {.expected = "a gradient in m, within +-0.05",
                                      .least = -0.05,
                                      .most = 0.05,
                                      .remedy = "divide by 1000 what is in mm"};
static const wfi_quantity LIMIT = {
    .expected = "an elevation in degrees, from -90 to 90", .least = -90.0, .most = 90.0};

static wf_status read_optional(const wfi_place *place, const char *key, const char *text,
                               const wfi_quantity *quantity, double *out)
{
    return text != NULL ? wfi_read_number(place, key, text, quantity, out) : WF_OK;
}

/* The time of record i of a list, later than the one before; a lone record may do without. */
static wf_status read_time(const wfi_place *place, const char *text, size_t i, size_t n,
                           const wf_instant *before, wf_instant *out)
{
    if (text == NULL && n == 1)
        return WF_OK;
    if (text == NULL)
        return wfi_place_fail(place, NULL,
                              "time is missing; only a record that stands alone, for "
                              "all times, does without");
    WFI_TRY(wfi_read_instant(place, "time", text, out));
    if (i > 0 && wf_instant_difference_s(*out, *before) <= 0.0)
        return wfi_place_fail(place, "time",
                              "found %.60s, which is not later than the record "
                              "before; list them in order",
                              text);
    return WF_OK;
}

static wf_status read_weather_record(const wfi_place *place, const wfi_raw_weather *raw,
                                     const wfi_raw_weather *first, wf_weather *out)
{
    out->pressure_hpa = out->temperature_c = out->relative_humidity = NAN;
    if (raw->pressure_hpa == NULL && raw->temperature_c == NULL && raw->relative_humidity == NULL)
        return wfi_place_fail(place, NULL,
                              "pressure_hpa, temperature_c or relative_humidity is "
                              "missing; add at least one");
    if ((raw->pressure_hpa == NULL) != (first->pressure_hpa == NULL) ||
        (raw->temperature_c == NULL) != (first->temperature_c == NULL) ||
        (raw->relative_humidity == NULL) != (first->relative_humidity == NULL))
        return wfi_place_fail(place, NULL,
                              "this record has other keys than the first; give all "
                              "records of a station the same");
    WFI_TRY(read_optional(place, "pressure_hpa", raw->pressure_hpa, &PRESSURE, &out->pressure_hpa));
    WFI_TRY(read_optional(place, "temperature_c", raw->temperature_c, &TEMPERATURE,
                          &out->temperature_c));
    return read_optional(place, "relative_humidity", raw->relative_humidity, &HUMIDITY,
                         &out->relative_humidity);
}

static wf_status read_weather(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_raw_station *raw = &build->raw->stations[i_station];
    const size_t n = raw->weather_count;
    wf_weather *records = NULL;
    if (n == 0)
        return WF_OK;
    WFI_TRY(wfi_allocate(&records, n, sizeof *records, "weather", build->err));
    station->weather = records;
    station->n_weather = n;
    for (size_t i = 0; i < n; i++) {
        const wfi_place place =
            wfi_place_at(build->document, build->err, "stations[%zu].weather[%zu]", i_station, i);
        WFI_TRY(read_time(&place, raw->weather[i].time, i, n, i > 0 ? &records[i - 1].time : NULL,
                          &records[i].time));
        WFI_TRY(read_weather_record(&place, &raw->weather[i], &raw->weather[0], &records[i]));
    }
    return WF_OK;
}

static wf_status read_mapping(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_raw_station *raw = &build->raw->stations[i_station];
    const size_t n = raw->vmf1_count;
    wf_mapping *records = NULL;
    if (n == 0)
        return WF_OK;
    WFI_TRY(wfi_allocate(&records, n, sizeof *records, "mapping functions", build->err));
    station->mapping = records;
    station->n_mapping = n;
    for (size_t i = 0; i < n; i++) {
        const wfi_place place =
            wfi_place_at(build->document, build->err, "stations[%zu].vmf1[%zu]", i_station, i);
        WFI_TRY(read_time(&place, raw->vmf1[i].time, i, n, i > 0 ? &records[i - 1].time : NULL,
                          &records[i].time));
        WFI_TRY(wfi_read_number(&place, "hydrostatic_a", raw->vmf1[i].hydrostatic_a, &COEFFICIENT,
                                &records[i].hydrostatic_a));
        WFI_TRY(
            wfi_read_number(&place, "wet_a", raw->vmf1[i].wet_a, &COEFFICIENT, &records[i].wet_a));
    }
    return WF_OK;
}

static wf_status read_wet(const wfi_place *place, const wfi_raw_station *raw, wf_station *station)
{
    WFI_TRY(read_optional(place, "zenith_wet_delay_m", raw->zenith_wet_delay_m, &WET_DELAY,
                          &station->zenith_wet_delay_m));
    if (raw->wet_from_weather == NULL)
        return WF_OK;
    WFI_TRY(wfi_read_flag(place, "wet_from_weather", raw->wet_from_weather,
                          &station->wet_from_weather));
    if (!station->wet_from_weather)
        return WF_OK;
    if (raw->zenith_wet_delay_m != NULL)
        return wfi_place_fail(place, "wet_from_weather",
                              "zenith_wet_delay_m is given too; keep one of them");
    if (raw->weather_count == 0 || raw->weather[0].temperature_c == NULL ||
        raw->weather[0].relative_humidity == NULL)
        return wfi_place_fail(place, "wet_from_weather",
                              "needs weather with temperature_c and relative_humidity");
    return WF_OK;
}

static wf_status read_limit(const wfi_build *build, const wfi_place *place,
                            const wfi_raw_station *raw, wf_station *station)
{
    const wfi_place whole = wfi_place_at(build->document, build->err, "%s", "");
    double limit_deg = 0.0;
    WFI_TRY(read_optional(&whole, "elevation_limit_deg", build->raw->elevation_limit_deg, &LIMIT,
                          &limit_deg));
    WFI_TRY(
        read_optional(place, "elevation_limit_deg", raw->elevation_limit_deg, &LIMIT, &limit_deg));
    station->elevation_limit_rad = limit_deg * ERFA_DD2R;
    return WF_OK;
}

wf_status wfi_build_atmosphere(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_raw_station *raw = &build->raw->stations[i_station];
    const wfi_place place = wfi_place_at(build->document, build->err, "stations[%zu]", i_station);
    WFI_TRY(read_weather(build, i_station, station));
    WFI_TRY(read_mapping(build, i_station, station));
    WFI_TRY(read_wet(&place, raw, station));
    WFI_TRY(read_optional(&place, "gradient_north_m", raw->gradient_north_m, &GRADIENT,
                          &station->gradient_north_m));
    WFI_TRY(read_optional(&place, "gradient_east_m", raw->gradient_east_m, &GRADIENT,
                          &station->gradient_east_m));
    return read_limit(build, &place, raw, station);
}
