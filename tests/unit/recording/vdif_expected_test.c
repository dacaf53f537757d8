/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is expected of a header by the one before it, against what is asked of any header. */
#include "support/check.h"

#include "recording/vdif_expected.h"

enum { PER_SECOND = 5, EPOCH = 52, SECOND = 1000 };

typedef struct scene {
    wfi_vdif_stream stream;
    wfi_vdif_thread thread;
    uint32_t length;
} scene;

static void make_scene(scene *s, bool legacy)
{
    *s = (scene){.length = 1032};
    s->thread = (wfi_vdif_thread){
        .id = 3,
        .pattern = {.legacy = legacy, .frame_bytes = s->length, .bits = 2, .thread = 3},
        .frames_per_second = PER_SECOND};
    s->thread.bits = wfi_vdif_header_bits(&s->thread.pattern);
    s->thread.samples_per_frame = wfi_vdif_samples_per_frame(&s->thread.pattern);
    s->stream = (wfi_vdif_stream){
        .threads = &s->thread, .n_threads = 1, .lengths = &s->length, .n_lengths = 1};
    for (uint32_t i = 0; i < WFI_VDIF_N_EPOCHS; i++)
        s->stream.epoch_second[i] = wfi_vdif_epoch_second(i);
    s->stream.origin_second = wfi_vdif_epoch_second(EPOCH) + SECOND;
    for (size_t i = 0; i < WFI_VDIF_N_THREADS; i++)
        s->stream.thread_index[i] = i == s->thread.id ? 0 : -1;
}

static void make_header(const scene *s, uint32_t k, uint8_t *out)
{
    wfi_vdif_header h = s->thread.pattern;
    h.epoch = EPOCH;
    h.second = SECOND + k / PER_SECOND;
    h.frame = k % PER_SECOND;
    memset(out, 0, WFI_VDIF_HEADER_BYTES);
    wfi_vdif_header_encode(out, &h);
}

/* One bit or two of a header are turned over: the expectation is met exactly by what
 * wfi_vdif_is_frame takes for frame k, but for the version that needs a closer look. */
static void check_bits(const scene *s, uint32_t k, const wfi_expected *expected)
{
    enum { N_BITS = 8 * WFI_VDIF_HEADER_BYTES };
    uint8_t header[WFI_VDIF_HEADER_BYTES];
    make_header(s, k, header);
    assert_true(wfi_expected_meets(expected, header));
    for (size_t a = 0; a < N_BITS; a++) {
        for (size_t b = a; b < N_BITS; b++) {
            uint8_t turned[WFI_VDIF_HEADER_BYTES];
            memcpy(turned, header, sizeof turned);
            turned[a / 8] ^= (uint8_t)(1u << a % 8);
            if (b != a)
                turned[b / 8] ^= (uint8_t)(1u << b % 8);
            const bool closer = turned[WFI_VDIF_EXTENDED_VERSION_BYTE] == WFI_VDIF_CHANNEL_VALIDITY;
            const bool is_frame = wfi_vdif_is_frame(&s->stream, &s->thread, k, turned);
            assert_int_equal(wfi_expected_meets(expected, turned), is_frame && !closer);
        }
    }
}

static void check_second(bool legacy)
{
    scene s;
    uint8_t header[WFI_VDIF_HEADER_BYTES];
    make_scene(&s, legacy);
    make_header(&s, PER_SECOND, header);
    wfi_expected expected = {0};
    assert_false(wfi_expected_meets(&expected, header));
    assert_true(wfi_vdif_is_frame(&s.stream, &s.thread, PER_SECOND, header));
    wfi_expected_follow(&expected, &s.thread, header);
    for (uint32_t k = PER_SECOND + 1; k < 2 * PER_SECOND; k++) {
        check_bits(&s, k, &expected);
        wfi_expected_advance(&expected);
    }
    /* no number is beyond the second */
    make_header(&s, 2 * PER_SECOND, header);
    assert_false(wfi_expected_meets(&expected, header));
    make_header(&s, 2 * PER_SECOND - 1, header);
    wfi_put_le32(header + 4, wfi_le32(header + 4) + 1);
    assert_false(wfi_expected_meets(&expected, header));
    assert_false(wfi_vdif_is_frame(&s.stream, &s.thread, 2 * PER_SECOND, header));
}

static void expected_header_is_that_of_the_frame(void **state)
{
    (void)state;
    check_second(false);
    check_second(true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(expected_header_is_that_of_the_frame),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
