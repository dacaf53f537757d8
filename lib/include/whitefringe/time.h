/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Instants: an integer second and a fraction, since no double can carry an absolute time. */
#ifndef WHITEFRINGE_TIME_H
#define WHITEFRINGE_TIME_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#ifdef __cplusplus
extern "C" {
#endif

/** An instant of UTC.
 *
 *  second    SI seconds elapsed since 2000-01-01T00:00:00 UTC, leap seconds counted, so that
 *            differences of instants are true durations
 *  fraction  s, in [0, 1)
 */
typedef struct wf_instant {
    int64_t second;
    double fraction;
} wf_instant;

/** Room for the text of an instant, terminating zero included. */
#define WF_INSTANT_TEXT_BYTES 48

/** Read `2026-03-01T12:00:00.25` (UTC, ISO 8601; a blank for the T and a final Z are accepted;
 *  second 60 only where a leap second was).
 *
 *  status  OK | FORMAT: not such a text, or no such date
 */
WF_API WF_MUST_CHECK wf_status wf_instant_parse(wf_instant *out, const char *text, wf_error *err);

/** Write an instant as ISO 8601 UTC with n_digits (0..12) decimals, rounded down. */
WF_API void wf_instant_format(char text[WF_INSTANT_TEXT_BYTES], wf_instant t, int n_digits);

/** t + duration_s; exact to the rounding of the fraction. */
WF_API wf_instant wf_instant_add(wf_instant t, double duration_s);

/** a - b in seconds; the integer parts are subtracted exactly. */
WF_API double wf_instant_difference_s(wf_instant a, wf_instant b);

/** t + n_samples / rate_hz, exact in whole seconds.
 *
 *  given  rate_hz  > 0
 */
WF_API wf_instant wf_instant_add_samples(wf_instant t, int64_t n_samples, int64_t rate_hz);

/** Calendar date and time of day of an instant.
 *
 *  returned  mjd          modified Julian day number of the UTC day
 *            second_of_day  s in [0, 86400), to 86401 on a day that ends with a leap second;
 *                           whole seconds (the fraction is the instant's own)
 */
WF_API void wf_instant_utc(wf_instant t, int32_t *mjd, int32_t *second_of_day);

/** The instant of 0h UTC of a modified Julian day (1972 or later). */
WF_API wf_instant wf_instant_of_mjd(int32_t mjd);

/** TAI - UTC in s on the UTC day of t (the table built into ERFA). */
WF_API int wf_tai_minus_utc_s(wf_instant t);

#ifdef __cplusplus
}
#endif

#endif
