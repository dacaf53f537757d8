/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far ahead is asked for: never what a reader gives no sign of wanting. */
#include "support/check.h"

#include <unistd.h>

#include "recording/read_ahead.h"
#include "unit/recording/scratch.h"

enum { FILE_BYTES = 64 << 20, READ_BYTES = 300000, FARTHEST = 8 << 20 };

static void open_input(wfi_input_file *input, const char *path)
{
    wf_error err = WF_ERROR_INIT;
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    fclose(file);
    assert_int_equal(truncate(path, FILE_BYTES), 0); /* a hole takes no room */
    wf_check_ok(wfi_input_file_open(input, path, &err), &err);
}

static void a_reader_that_goes_forward_is_led_by_what_it_has_read(void **state)
{
    (void)state;
    wfi_input_file input;
    wfi_read_ahead ahead = {0};
    open_input(&input, "a.bin");
    for (int64_t at = 0; at + READ_BYTES <= FILE_BYTES; at += READ_BYTES) {
        const int64_t end = at + READ_BYTES;
        wfi_read_ahead_follow(&ahead, &input, at, READ_BYTES);
        assert_true(ahead.asked <= FILE_BYTES);
        assert_true(ahead.asked - end <= end && ahead.asked - end <= FARTHEST);
        if (at > FARTHEST && end + FARTHEST < FILE_BYTES)
            assert_true(ahead.asked - end >= FARTHEST / 2);
    }
    assert_int_equal(ahead.asked, FILE_BYTES);
    wfi_input_file_close(&input);
}

/* As threads do that share a file. */
static void jumps_over_the_stretches_of_others_go_on(void **state)
{
    (void)state;
    wfi_input_file input;
    wfi_read_ahead ahead = {0};
    open_input(&input, "a.bin");
    for (int64_t slice = 0; slice < 10; slice++)
        for (int64_t i = 0; i < 7; i++)
            wfi_read_ahead_follow(&ahead, &input, (2 * slice * 7 + i) * READ_BYTES, READ_BYTES);
    assert_true(ahead.asked - ahead.end >= FARTHEST / 2);
    wfi_input_file_close(&input);
}

static void who_looks_here_and_there_has_nothing_read_in_vain(void **state)
{
    (void)state;
    static const int64_t places[] = {30 << 20, 10 << 20, 50 << 20, 0, 20 << 20, 5 << 20};
    wfi_input_file input;
    wfi_input_file other;
    wfi_read_ahead ahead = {0};
    open_input(&input, "a.bin");
    open_input(&other, "b.bin");
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        wfi_read_ahead_follow(&ahead, &input, places[i], READ_BYTES);
        assert_int_equal(ahead.asked, places[i] + READ_BYTES);
    }
    /* nor who goes from file to file */
    wfi_read_ahead_follow(&ahead, &other, (5 << 20) + READ_BYTES, READ_BYTES);
    assert_int_equal(ahead.asked, (5 << 20) + 2 * READ_BYTES);
    wfi_input_file_close(&input);
    wfi_input_file_close(&other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_reader_that_goes_forward_is_led_by_what_it_has_read),
        cmocka_unit_test(jumps_over_the_stretches_of_others_go_on),
        cmocka_unit_test(who_looks_here_and_there_has_nothing_read_in_vain),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
