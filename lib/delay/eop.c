/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth orientation parameters: a table of days, interpolated. */
#include "delay/eop.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/finals2000a.h"

enum { N_NODES = 4 };

/* No series ever came near these; beyond them a unit or a column is mistaken. Polar motion stays
 * within 0.7 arcsec, UT1-UTC within 0.9 s by the definition of UTC (ITU-R TF.460). */
static const double LARGEST_POLE_RAD = 2.0 * ERFA_DAS2R;
static const double LARGEST_UT1_MINUS_UTC_S = 1.0;
/* Celestial pole offsets stay within 1 mas; those against the IAU 1980 theory are tens of mas. */
static const double LARGEST_CELESTIAL_OFFSET_RAD = 5e-3 * ERFA_DAS2R;

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

wf_status wfi_eop_append(wfi_eop *eop, const wf_earth_orientation_day *day, const char *place,
                         wf_error *err)
{
    if (eop->n_days == 0)
        eop->first_mjd = day->mjd;
    const int64_t expected_mjd = eop->first_mjd + (int64_t)eop->n_days;
    if (day->mjd != expected_mjd)
        return wfi_fail(err, WF_FORMAT,
                        "%s: MJD %d follows MJD %lld; the days must ascend, one day apart", place,
                        (int)day->mjd, (long long)expected_mjd - 1);
    WFI_TRY(check_values(day, place, err));
    WFI_TRY(wfi_array_reserve(&eop->days, &eop->capacity, eop->n_days + 1, sizeof eop->days[0],
                              "Earth orientation", err));
    const wf_instant start = wf_instant_of_mjd(day->mjd);
    eop->days[eop->n_days++] = (wfi_eop_day){
        .start = start,
        .values = {.pole_x_rad = day->pole_x_rad,
                   .pole_y_rad = day->pole_y_rad,
                   .ut1_minus_tai_s = day->ut1_minus_utc_s - wf_tai_minus_utc_s(start),
                   .celestial_pole_dx_rad = day->celestial_pole_dx_rad,
                   .celestial_pole_dy_rad = day->celestial_pole_dy_rad}};
    return WF_OK;
}

static wf_status load_stated_days(wfi_eop *eop, const wf_earth_orientation_entry *entry,
                                  wf_error *err)
{
    WFI_TRY(wfi_string_copy(&eop->origin, "the job's earth_orientation", err));
    for (size_t i = 0; i < entry->n_days; i++) {
        const wf_earth_orientation_day *day = &entry->days[i];
        char place[64];
        snprintf(place, sizeof place, "earth_orientation: day %zu (MJD %d)", i + 1, (int)day->mjd);
        if (!isfinite(day->pole_x_rad) || !isfinite(day->pole_y_rad) ||
            !isfinite(day->ut1_minus_utc_s) || !isfinite(day->celestial_pole_dx_rad) ||
            !isfinite(day->celestial_pole_dy_rad))
            return wfi_fail(err, WF_FORMAT, "%s: a value is not finite", place);
        WFI_TRY(wfi_eop_append(eop, day, place, err));
    }
    return WF_OK;
}

wf_status wfi_eop_load(wfi_eop *eop, const wf_earth_orientation_entry *entry, wf_error *err)
{
    if (entry->path != NULL)
        WFI_TRY(wfi_finals2000a_read(eop, entry->path, err));
    else if (entry->n_days > 0)
        WFI_TRY(load_stated_days(eop, entry, err));
    if (eop->n_days > 0 && eop->n_days < N_NODES)
        return wfi_fail(err, WF_FORMAT,
                        "%s holds %zu days; interpolation takes at least %d: two before and two "
                        "after the scans",
                        eop->origin, eop->n_days, (int)N_NODES);
    return WF_OK;
}

void wfi_eop_release(wfi_eop *eop)
{
    wfi_free(eop->origin);
    wfi_free(eop->days);
    *eop = (wfi_eop){0};
}

static void day_text(char text[WF_INSTANT_TEXT_BYTES], wf_instant t)
{
    wf_instant_format(text, t, 0);
    text[10] = '\0'; /* the date alone */
}

static wf_status fail_outside(const wfi_eop *eop, wf_instant t, wf_error *err)
{
    char asked[WF_INSTANT_TEXT_BYTES];
    char first[WF_INSTANT_TEXT_BYTES];
    char last[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(asked, t, 3);
    day_text(first, eop->days[1].start);
    day_text(last, eop->days[eop->n_days - 2].start);
    return wfi_fail(err, WF_RANGE,
                    "%s: Earth orientation can be interpolated from %s to %s (0h UTC, one day "
                    "inside its table), not at %s: take a series with two days before and two "
                    "days after",
                    eop->origin, first, last, asked);
}

static wf_status fail_blank(const wfi_eop *eop, const wfi_eop_day *day, wf_error *err)
{
    char date[WF_INSTANT_TEXT_BYTES];
    day_text(date, day->start);
    const wfi_eop_values *values = &day->values;
    const char *what = "celestial pole offset";
    if (isnan(values->pole_x_rad) || isnan(values->pole_y_rad))
        what = "polar motion";
    else if (isnan(values->ut1_minus_tai_s))
        what = "UT1-UTC";
    return wfi_fail(err, WF_RANGE, "%s: no %s is given for %s: take a newer series", eop->origin,
                    what, date);
}

static bool is_known(const wfi_eop_values *values)
{
    return isfinite(values->pole_x_rad) && isfinite(values->pole_y_rad) &&
           isfinite(values->ut1_minus_tai_s) && isfinite(values->celestial_pole_dx_rad) &&
           isfinite(values->celestial_pole_dy_rad);
}

/* First of the four days around t. */
static wf_status find_window(const wfi_eop *eop, wf_instant t, size_t *first, wf_error *err)
{
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(t, &mjd, &second_of_day);
    const int64_t i_day = (int64_t)mjd - eop->first_mjd;
    const int64_t n = (int64_t)eop->n_days;
    const bool at_end = i_day == n - 2 && second_of_day == 0 && t.fraction == 0.0;
    if (i_day < 1 || (i_day > n - 3 && !at_end))
        return fail_outside(eop, t, err);
    *first = (size_t)(at_end ? n - N_NODES : i_day - 1);
    for (size_t i = *first; i < *first + N_NODES; i++)
        if (!is_known(&eop->days[i].values))
            return fail_blank(eop, &eop->days[i], err);
    return WF_OK;
}

/* Lagrange's weights for nodes that need not be evenly spaced: a day with a leap second is longer.
 */
static void lagrange_weights(const wfi_eop_day *days, wf_instant t, double weight[N_NODES])
{
    double node_s[N_NODES];
    for (size_t i = 0; i < N_NODES; i++)
        node_s[i] = wf_instant_difference_s(t, days[i].start);
    for (size_t i = 0; i < N_NODES; i++) {
        weight[i] = 1.0;
        for (size_t j = 0; j < N_NODES; j++)
            if (j != i)
                weight[i] *= node_s[j] / (node_s[j] - node_s[i]);
    }
}

wf_status wfi_eop_evaluate(const wfi_eop *eop, wf_instant t, wfi_eop_values *out, wf_error *err)
{
    size_t first = 0;
    WFI_TRY(find_window(eop, t, &first, err));
    double weight[N_NODES];
    lagrange_weights(&eop->days[first], t, weight);
    *out = (wfi_eop_values){0};
    for (size_t i = 0; i < N_NODES; i++) {
        const wfi_eop_values *values = &eop->days[first + i].values;
        out->pole_x_rad += weight[i] * values->pole_x_rad;
        out->pole_y_rad += weight[i] * values->pole_y_rad;
        out->ut1_minus_tai_s += weight[i] * values->ut1_minus_tai_s;
        out->celestial_pole_dx_rad += weight[i] * values->celestial_pole_dx_rad;
        out->celestial_pole_dy_rad += weight[i] * values->celestial_pole_dy_rad;
    }
    return WF_OK;
}
