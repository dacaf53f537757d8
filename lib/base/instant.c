/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Instants and the UTC calendar; leap seconds from the table built into ERFA. */
#include <whitefringe/time.h>

#include <ctype.h>
#include <erfa.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "base/text.h"

/* 2000-01-01: modified Julian day (calendar arithmetic) and TAI - UTC, s (IERS Bulletin C). */
enum { MJD_2000 = 51544, TAI_MINUS_UTC_2000_S = 32, DAY_S = 86400, MJD_1972 = 41317 };

static const double JD_OF_MJD_0 = 2400000.5;

/* TAI - UTC on a UTC day. ERFA's warning of dates far in the future is not an error: no later
 * leap second is known. */
static int tai_minus_utc_of_mjd(int32_t mjd)
{
    int year = 0;
    int month = 0;
    int day = 0;
    double fraction = 0;
    double offset_s = 0;
    eraJd2cal(JD_OF_MJD_0, mjd, &year, &month, &day, &fraction);
    eraDat(year, month, day, 0.0, &offset_s);
    return (int)lround(offset_s);
}

static int64_t second_of_mjd(int32_t mjd)
{
    return (int64_t)(mjd - MJD_2000) * DAY_S + tai_minus_utc_of_mjd(mjd) - TAI_MINUS_UTC_2000_S;
}

static int64_t day_length_s(int32_t mjd)
{
    return second_of_mjd(mjd + 1) - second_of_mjd(mjd);
}

wf_instant wf_instant_of_mjd(int32_t mjd)
{
    return (wf_instant){second_of_mjd(mjd), 0.0};
}

void wf_instant_utc(wf_instant t, int32_t *mjd, int32_t *second_of_day)
{
    int64_t day = MJD_2000 + (int64_t)floor((double)t.second / DAY_S) + 1;
    while (second_of_mjd((int32_t)day) > t.second)
        day--;
    *mjd = (int32_t)day;
    *second_of_day = (int32_t)(t.second - second_of_mjd((int32_t)day));
}

int wf_tai_minus_utc_s(wf_instant t)
{
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(t, &mjd, &second_of_day);
    return tai_minus_utc_of_mjd(mjd);
}

/* Read exactly n digits. */
static bool digits(const char **text, int n, int *value)
{
    *value = 0;
    for (int i = 0; i < n; i++, (*text)++) {
        if (!isdigit((unsigned char)**text))
            return false;
        *value = 10 * *value + (**text - '0');
    }
    return true;
}

static bool separator(const char **text, const char *allowed)
{
    if (**text == '\0' || strchr(allowed, **text) == NULL)
        return false;
    (*text)++;
    return true;
}

static bool fraction_of_second(const char **text, double *fraction)
{
    *fraction = 0;
    if (**text != '.')
        return true;
    const size_t n = 1 + strspn(*text + 1, "0123456789");
    const bool read = n > 1 && wfi_parse_double(fraction, *text, n);
    *text += n;
    return read;
}

wf_status wf_instant_parse(wf_instant *out, const char *text, wf_error *err)
{
    const char *p = text;
    int year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0;
    double fraction = 0;
    const bool shape = digits(&p, 4, &year) && separator(&p, "-") && digits(&p, 2, &month) &&
                       separator(&p, "-") && digits(&p, 2, &day) && separator(&p, "T ") &&
                       digits(&p, 2, &hour) && separator(&p, ":") && digits(&p, 2, &minute) &&
                       separator(&p, ":") && digits(&p, 2, &second) &&
                       fraction_of_second(&p, &fraction);
    if (shape && *p == 'Z')
        p++;
    double jd_of_mjd_0 = 0;
    double mjd = 0;
    const bool is_date =
        shape && *p == '\0' && eraCal2jd(year, month, day, &jd_of_mjd_0, &mjd) == 0;
    if (is_date && mjd < MJD_1972)
        return wfi_fail(err, WF_FORMAT,
                        "\"%.60s\" is no time of today's UTC, which has counted in whole leap "
                        "seconds since 1972-01-01: expected a later time",
                        text);
    if (!is_date || hour > 23 || minute > 59)
        return wfi_fail(err, WF_FORMAT,
                        "\"%.60s\" is no time: expected UTC such as 2026-03-01T12:00:00.25", text);
    const int32_t i_mjd = (int32_t)mjd;
    const int64_t of_day = (int64_t)hour * 3600 + minute * 60 + second;
    if (second > 60 || (second == 60 && of_day != day_length_s(i_mjd) - 1))
        return wfi_fail(err, WF_FORMAT, "\"%.60s\": there was no leap second at that time", text);
    out->second = second_of_mjd(i_mjd) + of_day;
    out->fraction = fraction < 1.0 ? fraction : nextafter(1.0, 0.0);
    return WF_OK;
}

static const double HALF_A_PICOSECOND = 5e-13;

void wf_instant_format(char text[WF_INSTANT_TEXT_BYTES], wf_instant t, int n_digits)
{
    int32_t mjd = 0;
    int32_t of_day = 0;
    wf_instant_utc(t, &mjd, &of_day);
    int year = 0, month = 0, day = 0;
    double unused = 0;
    eraJd2cal(JD_OF_MJD_0, mjd, &year, &month, &day, &unused);
    const int32_t leap = of_day >= DAY_S;
    const int32_t clock_s = of_day - leap;
    const int n =
        snprintf(text, WF_INSTANT_TEXT_BYTES, "%04d-%02d-%02dT%02d:%02d:%02d", year, month, day,
                 (int)(clock_s / 3600), (int)(clock_s / 60 % 60), (int)(clock_s % 60 + leap));
    if (n_digits <= 0 || n < 0 || n + n_digits + 2 > WF_INSTANT_TEXT_BYTES)
        return;
    /* what is a decimal but for its binary rounding shows as that, not as the one before it */
    const double rounded = t.fraction + HALF_A_PICOSECOND;
    double fraction = rounded < 1 ? rounded : t.fraction;
    text[n] = '.';
    for (int i = 1; i <= n_digits; i++) {
        fraction *= 10;
        const int digit = (int)fraction;
        fraction -= digit;
        text[n + i] = (char)('0' + digit);
    }
    text[n + n_digits + 1] = '\0';
}

static wf_instant normalised(int64_t second, double fraction)
{
    const double whole = floor(fraction);
    wf_instant t = {second + (int64_t)whole, fraction - whole};
    if (t.fraction >= 1.0) { /* a tiny negative fraction rounds up to 1 */
        t.second++;
        t.fraction = 0.0;
    }
    return t;
}

wf_instant wf_instant_add(wf_instant t, double duration_s)
{
    const double whole = floor(duration_s);
    return normalised(t.second + (int64_t)whole, t.fraction + (duration_s - whole));
}

double wf_instant_difference_s(wf_instant a, wf_instant b)
{
    return (double)(a.second - b.second) + (a.fraction - b.fraction);
}

wf_instant wf_instant_add_samples(wf_instant t, int64_t n_samples, int64_t rate_hz)
{
    const int64_t seconds = n_samples / rate_hz;
    const double rest = (double)(n_samples % rate_hz) / (double)rate_hz;
    return normalised(t.second + seconds, t.fraction + rest);
}
