/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <whitefringe/time.h>

static wf_instant parse(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_ok(wf_instant_parse(&t, text, &err), &err);
    return t;
}

static void instant_counts_from_2000_with_leap_seconds(void **state)
{
    (void)state;
    assert_int_equal(parse("2000-01-01T00:00:00").second, 0);
    assert_int_equal(parse("2000-01-02T00:00:00").second, 86400);
    /* Source: IERS Bulletin C: TAI-UTC 32 s in 2000, 37 s from 2017-01-01: five leap seconds.
     * 2017-01-01 is 6210 days after 2000-01-01 (MJD 57754 - 51544). */
    assert_int_equal(parse("2017-01-01T00:00:00").second, 6210LL * 86400 + 5);
    assert_int_equal(wf_tai_minus_utc_s(parse("2017-01-01T00:00:00")), 37);
    assert_int_equal(wf_tai_minus_utc_s(parse("2016-12-31T23:59:60")), 36);
}

static void instant_knows_leap_seconds(void **state)
{
    (void)state;
    const wf_instant before = parse("2016-12-31T23:59:59");
    const wf_instant leap = parse("2016-12-31T23:59:60");
    const wf_instant after = parse("2017-01-01T00:00:00");
    assert_int_equal(leap.second, before.second + 1);
    assert_int_equal(after.second, before.second + 2);
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, leap, 0);
    assert_string_equal(text, "2016-12-31T23:59:60");
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_refused(wf_instant_parse(&t, "2018-12-31T23:59:60", &err), WF_FORMAT, &err,
                     "no leap second");
}

static void instant_refuses_what_is_before_leap_seconds(void **state)
{
    (void)state;
    wf_instant t;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_instant_parse(&t, "1960-01-01T00:00:00", &err), WF_FORMAT, &err,
                     "since 1972-01-01: expected a later time");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_instant_parse(&t, "1971-12-31T23:59:59", &err), WF_FORMAT, &err,
                     "\"1971-12-31T23:59:59\" is no time");
}

static void instant_refuses_what_is_no_time(void **state)
{
    (void)state;
    static const char *const bad[] = {"",
                                      "yesterday",
                                      "2026-13-01T00:00:00",
                                      "2026-02-29T00:00:00",
                                      "2026-03-01T24:00:00",
                                      "2026-03-01T00:00:00x",
                                      "2026-03-01T00:00:00.",
                                      "1971-12-31T00:00:00"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_instant t;
        wf_check_refused(wf_instant_parse(&t, bad[i], &err), WF_FORMAT, &err, "is no time");
    }
}

static void instant_round_trips_through_text(void **state)
{
    (void)state;
    static const char *const times[] = {"1999-12-31T23:59:59.5", "2026-03-01T12:34:56.7",
                                        "1972-01-01T00:00:00.0", "2031-07-01T00:00:00.2"};
    for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
        char text[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(text, parse(times[i]), 1);
        assert_string_equal(text, times[i]);
    }
}

static void instant_arithmetic_is_exact_in_seconds(void **state)
{
    (void)state;
    const wf_instant t = {800000000, 0.75};
    wf_instant sum = wf_instant_add(t, -1.5);
    assert_int_equal(sum.second, 799999999);
    wf_check_near("fraction", sum.fraction, 0.25, 0.0, "s");
    assert_true(wf_instant_difference_s(sum, t) == -1.5);
    sum = wf_instant_add_samples(t, -3, 4);
    assert_int_equal(sum.second, 800000000);
    assert_true(sum.fraction == 0.0);
    sum = wf_instant_add((wf_instant){5, 0.0}, -1e-20);
    assert_true(sum.fraction >= 0.0 && sum.fraction < 1.0);
}

static void instant_gives_the_day_of_utc(void **state)
{
    (void)state;
    int32_t mjd, second;
    wf_instant_utc(parse("2016-12-31T23:59:60"), &mjd, &second);
    assert_int_equal(mjd, 57753); /* the table of VDIF epochs: 2017-01-01 is MJD 57754 */
    assert_int_equal(second, 86400);
    wf_instant_utc(parse("2017-01-01T00:00:01"), &mjd, &second);
    assert_int_equal(mjd, 57754);
    assert_int_equal(second, 1);
    assert_int_equal(wf_instant_of_mjd(57754).second, parse("2017-01-01T00:00:00").second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(instant_counts_from_2000_with_leap_seconds),
        cmocka_unit_test(instant_knows_leap_seconds),
        cmocka_unit_test(instant_refuses_what_is_before_leap_seconds),
        cmocka_unit_test(instant_refuses_what_is_no_time),
        cmocka_unit_test(instant_round_trips_through_text),
        cmocka_unit_test(instant_arithmetic_is_exact_in_seconds),
        cmocka_unit_test(instant_gives_the_day_of_utc),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
