/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every field on its own, against words put together by tests/support/vdif_frames.h. */
#include "support/check.h"
#include "support/vdif_frames.h"

#include "recording/vdif_header.h"

static void check_same(const wfi_vdif_header *h, const frame_spec *f)
{
    assert_int_equal(h->invalid, f->invalid);
    assert_int_equal(h->legacy, f->legacy);
    assert_int_equal(h->epoch, f->epoch);
    assert_int_equal(h->second, f->second);
    assert_int_equal(h->frame, f->frame);
    assert_int_equal(h->log2_channels, f->log2_channels);
    assert_int_equal(h->frame_bytes, f->frame_bytes);
    assert_int_equal(h->is_complex, f->is_complex);
    assert_int_equal(h->bits, f->bits);
    assert_int_equal(h->thread, f->thread);
    for (size_t i = 0; i < 4 && !f->legacy; i++)
        assert_int_equal(h->extended[i], f->extended[i]);
}

static void check_field(frame_spec f)
{
    uint8_t frame[48];
    const uint32_t frame_bytes = f.frame_bytes;
    f.frame_bytes = sizeof frame;
    frame_bytes_of(&f, frame);
    put_word(frame + 8, f.log2_channels << 24 | frame_bytes / 8);
    f.frame_bytes = frame_bytes;
    wfi_vdif_header h;
    assert_true(wfi_vdif_header_decode(&h, frame, sizeof frame));
    check_same(&h, &f);
    h.station = 0x416c;
    uint8_t again[WFI_VDIF_HEADER_BYTES];
    const size_t n = wfi_vdif_header_encode(again, &h);
    assert_int_equal(n, f.legacy ? 16 : 32);
    assert_memory_equal(again, frame, n);
}

static void header_fields_reach_their_limits(void **state)
{
    (void)state;
    const frame_spec least = {.bits = 1, .frame_bytes = 48};
    frame_spec f = least;
    check_field(f);
    f.invalid = 1, check_field(f), f = least;
    f.legacy = 1, check_field(f), f = least;
    f.second = (UINT32_C(1) << 30) - 1, check_field(f), f = least;
    f.epoch = 63, check_field(f), f = least;
    f.frame = (UINT32_C(1) << 24) - 1, check_field(f), f = least;
    f.log2_channels = 31, check_field(f), f = least;
    f.frame_bytes = 8 * ((UINT32_C(1) << 24) - 1), check_field(f), f = least;
    f.is_complex = 1, check_field(f), f = least;
    f.bits = 32, check_field(f), f = least;
    f.thread = 1023, check_field(f), f = least;
    for (size_t i = 0; i < 4; i++)
        f.extended[i] = UINT32_MAX, check_field(f), f = least;
}

static void header_is_not_read_from_too_few_bytes(void **state)
{
    (void)state;
    uint8_t bytes[32] = {0};
    wfi_vdif_header h;
    for (size_t n = 0; n < 32; n++)
        assert_false(wfi_vdif_header_decode(&h, bytes, n));
    bytes[3] = 0x40; /* legacy */
    for (size_t n = 0; n < 16; n++)
        assert_false(wfi_vdif_header_decode(&h, bytes, n));
    assert_true(wfi_vdif_header_decode(&h, bytes, 16));
}

static void header_without_room_for_samples_is_a_fault(void **state)
{
    (void)state;
    wfi_vdif_header h = {.bits = 2, .frame_bytes = 32};
    assert_non_null(strstr(wfi_vdif_header_fault(&h), "no room for samples"));
    assert_int_equal(wfi_vdif_samples_per_frame(&h), 0);
    h.frame_bytes = 40;
    assert_null(wfi_vdif_header_fault(&h));
    h.log2_channels = 31;
    h.bits = 32;
    h.is_complex = true;
    assert_non_null(strstr(wfi_vdif_header_fault(&h), "too short for one sample"));
    h = (wfi_vdif_header){.bits = 2, .frame_bytes = 24, .legacy = true};
    assert_null(wfi_vdif_header_fault(&h));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(header_fields_reach_their_limits),
        cmocka_unit_test(header_is_not_read_from_too_few_bytes),
        cmocka_unit_test(header_without_room_for_samples_is_a_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
