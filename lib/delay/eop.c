/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth orientation at an instant: interpolated, and what interpolation cannot give. */
#include "delay/eop.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

#include "base/status.h"
#include "delay/orthotides.h"
#include "delay/time_scales.h"
#include "delay/zonal_tides.h"

enum { N_NODES = 4 };

/* The date alone where the time is 0h. */
static void date_text(char text[WF_INSTANT_TEXT_BYTES], wf_instant t)
{
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(t, &mjd, &second_of_day);
    wf_instant_format(text, t, 0);
    if (second_of_day == 0 && t.fraction == 0.0)
        text[10] = '\0';
}

static wf_status fail_outside(const wfi_eop *eop, wf_instant t, wf_error *err)
{
    char asked[WF_INSTANT_TEXT_BYTES];
    char first[WF_INSTANT_TEXT_BYTES];
    char last[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(asked, t, 3);
    date_text(first, eop->days[1].start);
    date_text(last, eop->days[eop->n_days - 2].start);
    const bool later = wf_instant_difference_s(t, eop->days[1].start) > 0.0;
    return wfi_fail(err, WF_RANGE,
                    "%s: Earth orientation can be interpolated from %s to %s (UTC, one row inside "
                    "its table), not at %s: take a series with two days before and two days "
                    "after%s",
                    eop->origin, first, last, asked,
                    later ? ", or allow its trend to be continued: extrapolate_days" : "");
}

static wf_status fail_blank(const wfi_eop *eop, const wfi_eop_day *day, wf_error *err)
{
    char date[WF_INSTANT_TEXT_BYTES];
    date_text(date, day->start);
    const wfi_eop_values *values = &day->values;
    const char *what = "celestial pole offset";
    if (isnan(values->pole_x_rad) || isnan(values->pole_y_rad))
        what = "polar motion";
    else if (isnan(values->ut1_minus_tai_s))
        what = "UT1-UTC";
    return wfi_fail(err, WF_RANGE,
                    "%s: no %s is given for %s: take a newer series, or allow the last days' "
                    "trend to be continued: extrapolate_days",
                    eop->origin, what, date);
}

static bool is_known(const wfi_eop_values *values)
{
    return isfinite(values->pole_x_rad) && isfinite(values->pole_y_rad) &&
           isfinite(values->ut1_minus_tai_s) && isfinite(values->celestial_pole_dx_rad) &&
           isfinite(values->celestial_pole_dy_rad);
}

/* Number of rows at or before t. */
static size_t count_until(const wfi_eop *eop, wf_instant t)
{
    size_t low = 0, high = eop->n_days;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (wf_instant_difference_s(eop->days[middle].start, t) <= 0.0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* First of the four rows around t; false outside the series. */
static bool find_window(const wfi_eop *eop, wf_instant t, size_t *first)
{
    const size_t n = count_until(eop, t);
    if (n < 2 || n > eop->n_days - 1)
        return false;
    const bool after_last_window = n == eop->n_days - 1;
    if (after_last_window && wf_instant_difference_s(t, eop->days[n - 1].start) > 0.0)
        return false;
    *first = n - 2 - after_last_window;
    return true;
}

static wf_status find_known_window(const wfi_eop *eop, wf_instant t, size_t *first, wf_error *err)
{
    if (!find_window(eop, t, first))
        return fail_outside(eop, t, err);
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
    WFI_TRY(find_known_window(eop, t, &first, err));
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

/* The tides at t, less what interpolation makes of those at the rows. */
static wf_status zonal_tides_share(const wfi_eop *eop, wf_instant t, const double tt_jd[2],
                                   double *share_s, wf_error *err)
{
    size_t first = 0;
    WFI_TRY(find_known_window(eop, t, &first, err));
    double weight[N_NODES];
    lagrange_weights(&eop->days[first], t, weight);
    *share_s = wfi_zonal_tides_s(wfi_centuries(tt_jd));
    for (size_t i = 0; i < N_NODES; i++)
        *share_s -= weight[i] * eop->days[first + i].zonal_tides_s;
    return WF_OK;
}

wf_status wfi_eop_shifts_at(const wfi_eop *eop, wf_instant t, const wfi_eop_values *values,
                            wfi_eop_shifts *out, wf_error *err)
{
    double tt_jd[2], ut1_jd[2], argument[6];
    wfi_tt(t, tt_jd);
    wfi_ut1(t, values->ut1_minus_tai_s, ut1_jd);
    wfi_tidal_arguments(ut1_jd, tt_jd, argument);
    *out = (wfi_eop_shifts){
        .libration = wfi_subdaily_sum(wfi_libration_lines, WFI_N_LIBRATION_LINES, argument)};
    out->subdaily =
        eop->subdaily_model == WF_SUBDAILY_IERS_2010
            ? wfi_orthotides(ut1_jd[0] - ERFA_DJM0 + ut1_jd[1])
            : wfi_subdaily_sum(wfi_desai_sibois_lines, WFI_N_DESAI_SIBOIS_LINES, argument);
    return zonal_tides_share(eop, t, tt_jd, &out->zonal_tides.ut1_s, err);
}

void wfi_eop_add(wfi_eop_values *values, const wfi_rotation_shift *shift)
{
    values->pole_x_rad += shift->pole_x_rad;
    values->pole_y_rad += shift->pole_y_rad;
    values->ut1_minus_tai_s += shift->ut1_s;
}

bool wfi_eop_next_row(const wfi_eop *eop, wf_instant t, wf_instant *next)
{
    const size_t n = count_until(eop, t);
    if (n < eop->n_days)
        *next = eop->days[n].start;
    return n < eop->n_days;
}

void wfi_eop_count(const wfi_eop *eop, wf_instant first, wf_instant last, size_t n[WFI_EOP_N_KINDS])
{
    size_t low = 0, high = 0;
    for (int kind = 0; kind < WFI_EOP_N_KINDS; kind++)
        n[kind] = 0;
    if (!find_window(eop, first, &low) || !find_window(eop, last, &high))
        return;
    for (size_t i = low; i < high + N_NODES; i++)
        n[eop->days[i].kind]++;
}
