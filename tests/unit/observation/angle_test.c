/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "observation/angle.h"

static const double PI = 3.14159265358979323846;

typedef struct example {
    const char *text;
    double seconds; /* by hand: 3600 a + 60 b + c */
} example;

static void angle_reads_hours(void **state)
{
    (void)state;
    static const example examples[] = {
        {"12:34:56.789012", 45296.789012},       {"12h34m56.789012s", 45296.789012},
        {"12 34 56.789012", 45296.789012},       {"0:00:00", 0.0},
        {"23:59:59.999999999", 86399.999999999}, {"1:2:3", 3723.0},
    };
    for (size_t i = 0; i < sizeof examples / sizeof examples[0]; i++) {
        double angle_rad = -1;
        assert_true(wfi_parse_hms(&angle_rad, examples[i].text));
        /* limit: two roundings of an angle below 2 pi, each half of 2^-50 */
        wf_check_near(examples[i].text, angle_rad, examples[i].seconds * PI / 43200.0, 1.8e-15,
                      "rad");
    }
}

static void angle_reads_degrees_with_the_sign_of_the_whole(void **state)
{
    (void)state;
    static const example examples[] = {
        {"-00:30:15.1", -1815.1}, {"+00:30:15.1", 1815.1},    {"-0d30m15.1s", -1815.1},
        {"-0 30  15.1", -1815.1}, {"90:00:00", 324000.0},     {"-90:00:00.000", -324000.0},
        {"05:06:07", 18367.0},    {"-89:59:59.9", -323999.9},
    };
    for (size_t i = 0; i < sizeof examples / sizeof examples[0]; i++) {
        double angle_rad = 7;
        assert_true(wfi_parse_dms(&angle_rad, examples[i].text));
        wf_check_near(examples[i].text, angle_rad, examples[i].seconds * PI / 648000.0, 5e-16,
                      "rad");
    }
}

static void angle_refuses_what_is_none(void **state)
{
    (void)state;
    static const char *const hours[] = {
        "",           "12",        "12:34",       "12:34:56:78", "24:00:00",
        "12:60:00",   "12:34:60",  "-1:00:00",    "12:34h56",    "12h34:56s",
        "12h34m56",   "12:34:56s", "12:34:5.6.7", "12:34:.5",    "12:34:56.7x",
        "1234:00:00", "12d34m56s", "12:34:56 ",   "12.5:00:00",  "12:3e1:00",
        " 12:34:56",
    };
    static const char *const degrees[] = {
        "90:00:00.1", "-90:00:01", "91:00:00", "--1:00:00", "+-1:00:00", "-",
        "1h00m00s",   "45.5",      "10:-5:00", "10:61:00",  "10:00:61",
    };
    double angle_rad = 0;
    for (size_t i = 0; i < sizeof hours / sizeof hours[0]; i++) {
        if (wfi_parse_hms(&angle_rad, hours[i]))
            fail_msg("\"%s\" was read as an hour angle", hours[i]);
    }
    for (size_t i = 0; i < sizeof degrees / sizeof degrees[0]; i++) {
        if (wfi_parse_dms(&angle_rad, degrees[i]))
            fail_msg("\"%s\" was read as degrees", degrees[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(angle_reads_hours),
        cmocka_unit_test(angle_reads_degrees_with_the_sign_of_the_whole),
        cmocka_unit_test(angle_refuses_what_is_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
