/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/text.h"

static void text_reads_numbers_whole_or_not_at_all(void **state)
{
    (void)state;
    double value = 0;
    assert_true(wfi_parse_double(&value, " -1.25e3 ", 9));
    assert_true(value == -1250.0);
    static const char *const bad[] = {"",    " ",     "1.2.3", "0x10", "nan",
                                      "inf", "1e999", "12a",   "1 2"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(wfi_parse_double(&value, bad[i], strlen(bad[i])));
    int64_t whole = 0;
    assert_true(wfi_parse_int64(&whole, "-9007199254740993", 17));
    assert_int_equal(whole, -9007199254740993);
    assert_false(wfi_parse_int64(&whole, "1.5", 3));
    assert_false(wfi_parse_int64(&whole, "99999999999999999999", 20));
}

static void text_finds_the_nearest_word(void **state)
{
    (void)state;
    static const char *const known[] = {"bandwidth_hz", "edge_hz", "sideband"};
    assert_string_equal(wfi_nearest_word("bandwith_hz", known, 3), "bandwidth_hz");
    assert_string_equal(wfi_nearest_word("edge", known, 3), "edge_hz");
    assert_null(wfi_nearest_word("declination", known, 3));
    static const char *const letters[] = {"R", "L"};
    assert_null(wfi_nearest_word("V", letters, 2));
}

static void text_writes_numbers_that_read_back(void **state)
{
    (void)state;
    static const double values[] = {0.0, 0.1, -1.0 / 3.0, 230e9, 6.62607015e-34, 1e-300};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        char text[WFI_NUMBER_BYTES];
        wfi_format_double(text, values[i]);
        double back = -1;
        assert_true(wfi_parse_double(&back, text, strlen(text)));
        assert_true(back == values[i]);
    }
    char text[WFI_NUMBER_BYTES];
    wfi_format_double(text, 0.1);
    assert_string_equal(text, "0.1");
}

static void text_grows(void **state)
{
    (void)state;
    wfi_text text = {0};
    for (int i = 0; i < 1000; i++)
        wfi_text_append(&text, "%d,", i % 10);
    assert_false(text.failed);
    assert_int_equal(text.n, 2000);
    assert_int_equal(strlen(text.bytes), 2000);
    wfi_text_release(&text);
    assert_null(text.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_reads_numbers_whole_or_not_at_all),
        cmocka_unit_test(text_finds_the_nearest_word),
        cmocka_unit_test(text_writes_numbers_that_read_back),
        cmocka_unit_test(text_grows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
