/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "engine/kernels.h"
#include "families.h"

static wfi_unpacker unpacker_of(wf_encoding encoding, unsigned bits, bool is_complex,
                                uint32_t n_channels)
{
    wf_error err = WF_ERROR_INIT;
    wfi_unpacker unpacker;
    wf_check_ok(wfi_unpacker_init(&unpacker,
                                  (wf_sample_format){encoding, bits, is_complex, n_channels}, &err),
                &err);
    return unpacker;
}

/* Source: VDIF Specification 1.1.1 section 10 (offset binary, first sample in the lowest bits,
 * channel 0 lowest); a payload word worked out by hand: bytes 9c 3a 05 6f hold, as pairs of
 * channels, the codes 0,3 1,2 2,2 3,0 1,1 0,0 3,3 2,1. */
static void unpack_reads_the_worked_word_of_two_channels(void **state)
{
    (void)state;
    static const uint8_t bytes[8] = {0x9c, 0x3a, 0x05, 0x6f};
    static const int codes[2][8] = {{0, 1, 2, 3, 1, 0, 3, 2}, {3, 2, 2, 0, 1, 0, 3, 1}};
    static const float levels[4] = {-3.3359f, -1.0f, 1.0f, 3.3359f};
    const wfi_unpacker unpacker = unpacker_of(WF_ENCODING_OFFSET_BINARY, 2, false, 2);
    float first[8];
    float second[8];
    wfi_unpack_plain(&unpacker, bytes, 0, 0, 8, first);
    wfi_unpack_plain(&unpacker, bytes, 0, 1, 8, second);
    for (size_t i = 0; i < 8; i++) {
        assert_true(first[i] == levels[codes[0][i]]);
        assert_true(second[i] == levels[codes[1][i]]);
    }
}

/* A code written bit by bit: the slow definition of the packing. */
static unsigned code_at(const uint8_t *bytes, size_t i_code, unsigned bits)
{
    unsigned code = 0;
    for (unsigned b = 0; b < bits; b++) {
        const size_t bit = i_code * bits + b;
        code |= (unsigned)(bytes[bit / 8] >> (bit % 8) & 1) << b;
    }
    return code;
}

static float defined_level(unsigned code, unsigned bits)
{
    static const float two_bits[4] = {-3.3359f, -1.0f, 1.0f, 3.3359f};
    return bits == 2 ? two_bits[code] : (float)code - (float)(1u << (bits - 1)) + 0.5f;
}

/* Sources of noise for all tests of this file. */
static void fill(uint8_t *bytes, size_t n)
{
    uint32_t random = 1;
    for (size_t i = 0; i < n; i++) {
        random = random * 1664525u + 1013904223u;
        bytes[i] = (uint8_t)(random >> 24);
    }
}

enum { BYTES = 512, GUARD = 64, COMPONENTS_MAX = 80 };

static void check_run(const wfi_kernels *kernels, const wfi_unpacker *unpacker,
                      const uint8_t *bytes, size_t offset, size_t n, uint32_t channel)
{
    const size_t group = unpacker->group;
    const unsigned bits = unpacker->format.bits;
    float out[COMPONENTS_MAX + 1];
    for (size_t i = 0; i <= COMPONENTS_MAX; i++)
        out[i] = -777.0f;
    const double sum = kernels->unpack(unpacker, bytes, offset, channel, n * group, out);
    double squares = 0;
    for (size_t i = 0; i < n * group; i++) {
        const size_t code = (offset + i / group) * group * unpacker->format.n_channels +
                            channel * group + i % group;
        const float level = defined_level(code_at(bytes, code, bits), bits);
        assert_true(out[i] == level);
        squares += (double)level * (double)level;
    }
    assert_true(out[n * group] == -777.0f);
    /* Float sums of at most 80 squares, in any order. */
    wf_check_near("sum of squares", sum, squares, 80 * 6e-8 * squares, "");
}

static void check_all_offsets(unsigned bits, bool is_complex, uint32_t n_channels)
{
    uint8_t bytes[BYTES + GUARD] = {0};
    fill(bytes, BYTES);
    const wfi_unpacker unpacker =
        unpacker_of(WF_ENCODING_OFFSET_BINARY, bits, is_complex, n_channels);
    const size_t n_samples = BYTES * 8 / unpacker.sample_bits;
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t offset = 0; offset < 20 && offset < n_samples; offset++) {
            for (size_t n = 0; n + offset <= n_samples && n * unpacker.group < COMPONENTS_MAX; n++)
                check_run(kernels, &unpacker, bytes, offset, n, (uint32_t)(n % n_channels));
        }
    }
}

static void unpack_agrees_with_the_definition_at_any_offset(void **state)
{
    (void)state;
    static const unsigned widths[] = {1, 2, 4, 8, 16};
    for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++) {
        for (uint32_t n_channels = 1; n_channels <= 32; n_channels *= 2) {
            check_all_offsets(widths[i], false, n_channels);
            check_all_offsets(widths[i], true, n_channels);
        }
    }
}

static void check_signed(unsigned bits)
{
    uint8_t bytes[BYTES + GUARD] = {0};
    fill(bytes, BYTES);
    const wfi_unpacker unpacker = unpacker_of(WF_ENCODING_SIGNED, bits, false, 1);
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        float out[COMPONENTS_MAX];
        (void)kernels->unpack(&unpacker, bytes, 1, 0, COMPONENTS_MAX, out);
        for (size_t i = 0; i < COMPONENTS_MAX; i++) {
            const unsigned code = code_at(bytes, i + 1, bits);
            const int value = bits == 8 ? (int8_t)code : (int16_t)code;
            assert_true(out[i] == (float)value);
        }
    }
}

static void unpack_reads_signed_samples_in_all_families(void **state)
{
    (void)state;
    check_signed(8);
    check_signed(16);
}

static void unpack_reads_signed_and_float_samples(void **state)
{
    (void)state;
    static const uint8_t shorts[] = {0x00, 0x80, 0xff, 0xff, 0x01, 0x00, 0xff, 0x7f};
    static const float expected[] = {-32768.0f, -1.0f, 1.0f, 32767.0f};
    const wfi_unpacker pcm = unpacker_of(WF_ENCODING_SIGNED, 16, false, 1);
    float out[4];
    (void)wfi_unpack_plain(&pcm, shorts, 0, 0, 4, out);
    for (size_t i = 0; i < 4; i++)
        assert_true(out[i] == expected[i]);
    static const float values[4] = {0.25f, -1e-3f, 7.0f, -0.0f};
    uint8_t bytes[sizeof values];
    memcpy(bytes, values, sizeof values);
    const wfi_unpacker floats = unpacker_of(WF_ENCODING_FLOAT, 32, true, 1);
    (void)wfi_unpack_plain(&floats, bytes, 0, 0, 4, out);
    for (size_t i = 0; i < 4; i++)
        assert_true(out[i] == values[i]);
}

static void unpack_refuses_widths_that_no_reader_has(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_unpacker unpacker;
    const wf_sample_format format = {WF_ENCODING_OFFSET_BINARY, 3, false, 1};
    wf_check_refused(wfi_unpacker_init(&unpacker, format, &err), WF_UNSUPPORTED, &err, "3 bits");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(unpack_reads_the_worked_word_of_two_channels),
        cmocka_unit_test(unpack_agrees_with_the_definition_at_any_offset),
        cmocka_unit_test(unpack_reads_signed_samples_in_all_families),
        cmocka_unit_test(unpack_reads_signed_and_float_samples),
        cmocka_unit_test(unpack_refuses_widths_that_no_reader_has),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
