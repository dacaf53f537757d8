/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which baseline, source and time a row of UV_DATA is of. */
#include "visibility/fits_idi_uv_label.h"

#include <math.h>

#include "base/status.h"

static const double JD_OF_MJD_0 = 2400000.5;
static const double DAY_S = 86400.0;

/* A day and a time in days, which may run past its end. */
static bool instant_of(wf_instant *out, double julian_date, double days, bool is_tai)
{
    const double mjd_given = julian_date - JD_OF_MJD_0;
    if (!(mjd_given >= 41317.0 && mjd_given < 200000.0) || !(fabs(days) < 10000.0))
        return false;
    int32_t mjd = (int32_t)floor(mjd_given);
    double of_day = mjd_given - mjd + days;
    if (is_tai) { /* TAI is 32 s ahead at the origin of instants, MJD 51544 */
        const double whole = floor(of_day);
        const wf_instant day = {((int64_t)mjd - 51544 + (int64_t)whole) * 86400 - 32, 0.0};
        *out = wf_instant_add(day, (of_day - whole) * DAY_S);
        return true;
    }
    /* the second after 86400 belongs to the day where it ends with a leap second */
    const double length_s =
        wf_instant_difference_s(wf_instant_of_mjd(mjd + 1), wf_instant_of_mjd(mjd));
    if (of_day < 0.0 || of_day * DAY_S >= length_s) {
        mjd += (int32_t)floor(of_day);
        of_day -= floor(of_day);
    }
    *out = wf_instant_add(wf_instant_of_mjd(mjd), of_day * DAY_S);
    return true;
}

/* A number from 1 to n, as an index from 0. */
static bool index_of(size_t *out, double number, size_t n)
{
    if (!(number >= 1.0 && number <= (double)n))
        return false;
    *out = (size_t)number - 1;
    return true;
}

wf_status wfi_uv_decode_label(wf_fits_idi_row *row, const wfi_uv_layout *layout,
                              const wfi_catalogue *catalogue, const char *path, size_t i_row,
                              const uint8_t *bytes, wf_error *err)
{
    const double baseline = wfi_fits_number(&layout->baseline, bytes, 0);
    const double source = wfi_fits_number(&layout->source, bytes, 0);
    const double first = floor(baseline / 256.0);
    if (!index_of(&row->i_station, first, catalogue->info.n_stations) ||
        !index_of(&row->j_station, baseline - 256.0 * first, catalogue->info.n_stations))
        return wfi_fail(err, WF_FORMAT,
                        "%s: UV_DATA row %zu: BASELINE %.10g names a station that is not in "
                        "ARRAY_GEOMETRY",
                        path, i_row + 1, baseline);
    if (!index_of(&row->i_source, source, catalogue->info.n_sources))
        return wfi_fail(err, WF_FORMAT, "%s: UV_DATA row %zu: source %.10g is not in SOURCE", path,
                        i_row + 1, source);
    if (layout->frequency.repeat > 0 && wfi_fits_number(&layout->frequency, bytes, 0) > 1.0)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: UV_DATA row %zu: FREQID %g; files of one frequency set-up are read",
                        path, i_row + 1, wfi_fits_number(&layout->frequency, bytes, 0));
    const double date = wfi_fits_number(&layout->date, bytes, 0);
    const double days = wfi_fits_number(&layout->time, bytes, 0);
    if (!instant_of(&row->middle, date, days, catalogue->times_are_tai))
        return wfi_fail(err, WF_FORMAT, "%s: UV_DATA row %zu: DATE %.10g and TIME %g are no time",
                        path, i_row + 1, date, days);
    row->length_s = wfi_fits_number(&layout->interval, bytes, 0);
    for (int k = 0; k < 3; k++)
        row->uvw_s[k] = wfi_fits_number(&layout->uvw[k], bytes, 0);
    return WF_OK;
}
