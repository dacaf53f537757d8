/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "statistics/decode.h"

/* Source: VDIF Specification 1.1.1 section 10; a payload word worked out by hand: bytes 9c 3a 05 6f
 * hold, as pairs of channels, the codes 0,3 1,2 2,2 3,0 1,1 0,0 3,3 2,1. */
static void decode_reads_the_worked_word_of_two_channels(void **state)
{
    (void)state;
    static const uint8_t bytes[8] = {0x9c, 0x3a, 0x05, 0x6f};
    static const uint8_t want[2][8] = {{0, 1, 2, 3, 1, 0, 3, 2}, {3, 2, 2, 0, 1, 0, 3, 1}};
    static const float levels[4] = {-3.3359f, -1.0f, 1.0f, 3.3359f};
    const wf_packed packed = {.bytes = bytes, .first = 100, .n = 8};
    wf_error err = WF_ERROR_INIT;
    wfi_decoder d;
    uint8_t codes[8];
    float x[8];
    wf_check_ok(
        wfi_decoder_init(
            &d,
            (wf_sample_format){.encoding = WF_ENCODING_OFFSET_BINARY, .bits = 2, .n_channels = 2},
            &err),
        &err);
    for (uint32_t c = 0; c < 2; c++) {
        wfi_decode_codes(&d, &packed, c, 101, 7, codes);
        wfi_decode_levels(&d, &packed, c, 101, 7, codes, x);
        for (size_t i = 0; i < 7; i++) {
            assert_int_equal(codes[i], want[c][i + 1]);
            assert_true(x[i] == levels[want[c][i + 1]]);
        }
    }
}

static void check_wide(wf_encoding encoding, unsigned bits, const uint8_t *bytes, size_t n,
                       const float *want)
{
    const wf_packed packed = {.bytes = bytes, .first = 0, .n = (int64_t)n};
    wf_error err = WF_ERROR_INIT;
    wfi_decoder d;
    uint8_t codes[8];
    float x[8];
    wf_check_ok(
        wfi_decoder_init(
            &d, (wf_sample_format){.encoding = encoding, .bits = bits, .n_channels = 1}, &err),
        &err);
    if (d.n_codes > 0)
        wfi_decode_codes(&d, &packed, 0, 0, n, codes);
    wfi_decode_levels(&d, &packed, 0, 0, n, codes, x);
    for (size_t i = 0; i < n; i++)
        assert_true(x[i] == want[i]);
}

/* Source: the definitions of two's complement and of offset binary, little-endian words. */
static void decode_reads_wide_samples(void **state)
{
    (void)state;
    check_wide(WF_ENCODING_SIGNED, 8, (const uint8_t[]){0x80, 0xff, 0, 0x7f}, 4,
               (const float[]){-128, -1, 0, 127});
    check_wide(WF_ENCODING_SIGNED, 16, (const uint8_t[]){0x00, 0x80, 0xfe, 0xff}, 2,
               (const float[]){-32768, -2});
    check_wide(WF_ENCODING_SIGNED, 32, (const uint8_t[]){0, 0, 0, 0x80}, 1,
               (const float[]){-2147483648.0f});
    check_wide(WF_ENCODING_OFFSET_BINARY, 8, (const uint8_t[]){0, 0x80}, 2,
               (const float[]){-127.5f, 0.5f});
    check_wide(WF_ENCODING_OFFSET_BINARY, 16, (const uint8_t[]){0, 0x80, 0xff, 0xff}, 2,
               (const float[]){0.5f, 32767.5f});
}

static void valid_stretches_lie_between_the_invalid(void **state)
{
    (void)state;
    static const wf_sample_range runs[] = {{10, 5}, {20, 1}};
    const wf_packed p = {.first = 0, .n = 30, .invalid = runs, .n_invalid = 2};
    assert_int_equal(wfi_valid_run(&p, 0, 30), 10);
    assert_int_equal(wfi_valid_run(&p, 0, 8), 8);
    assert_int_equal(wfi_valid_run(&p, 12, 9), 0);
    assert_int_equal(wfi_valid_run(&p, 15, 15), 5);
    assert_int_equal(wfi_valid_run(&p, 21, 9), 9);
    assert_int_equal(wfi_next_valid(&p, 9, 21), 9);
    assert_int_equal(wfi_next_valid(&p, 10, 20), 15);
    assert_int_equal(wfi_next_valid(&p, 12, 2), 14);
    assert_int_equal(wfi_next_valid(&p, 20, 10), 21);
}

static void decode_refuses_what_no_reader_hands_out(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_decoder d;
    wf_check_refused(wfi_decoder_init(&d, (wf_sample_format){.bits = 3, .n_channels = 1}, &err),
                     WF_UNSUPPORTED, &err, "3 bits");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decode_reads_the_worked_word_of_two_channels),
        cmocka_unit_test(decode_reads_wide_samples),
        cmocka_unit_test(valid_stretches_lie_between_the_invalid),
        cmocka_unit_test(decode_refuses_what_no_reader_hands_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
