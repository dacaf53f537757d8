/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

#include "base/bytes.h"
#include "recording/vdif_fill.h"

enum { ROOM = 512, GUARD = 64, LONGEST = ROOM - 2 * GUARD };

static void make_noise(uint8_t *bytes, size_t n)
{
    uint32_t random = 12345;
    for (size_t i = 0; i < n; i++) {
        random = random * 1664525u + 1013904223u;
        bytes[i] = (uint8_t)(random >> 24);
    }
}

static void copy_is_exact_at_any_length_and_place(void **state)
{
    (void)state;
    uint8_t payload[ROOM];
    uint8_t out[ROOM];
    make_noise(payload, sizeof payload);
    for (size_t n = 0; n <= LONGEST; n++) {
        for (size_t shift = 0; shift < GUARD; shift += n % 8 == 0 ? 1 : 13) {
            uint8_t want[ROOM];
            memset(out, 0xa5, sizeof out);
            memset(want, 0xa5, sizeof want);
            memcpy(want + shift, payload + n % 16, n);
            wfi_copy_seeking_fill(out + shift, payload + n % 16, n);
            assert_memory_equal(out, want, sizeof out);
        }
    }
}

/* Whatever wfi_find_fill finds, copy and look have noticed; noise of a few lines it does not suspect. */
static void copy_notices_every_stretch_of_fill(void **state)
{
    (void)state;
    static const size_t lengths[] = {64, 72, 128, 136, 200, 248, 256, LONGEST};
    uint8_t payload[LONGEST];
    uint8_t out[ROOM];
    for (size_t l = 0; l < sizeof lengths / sizeof lengths[0]; l++) {
        const size_t n = lengths[l];
        for (size_t begin = 0; begin + 4 * WFI_FILL_WORDS <= n; begin += 4) {
            make_noise(payload, n);
            for (size_t i = 0; i < WFI_FILL_WORDS; i++)
                wfi_put_le32(payload + begin + 4 * i, WFI_FILL_WORD);
            for (size_t shift = 0; shift < GUARD; shift++)
                assert_true(wfi_copy_seeking_fill(out + shift, payload, n));
            size_t from = 0;
            size_t to = 0;
            assert_true(wfi_may_hold_fill(payload, n));
            assert_true(wfi_find_fill(payload, n, 0, &from, &to));
            assert_int_equal(from, begin);
            assert_int_equal(to, begin + 4 * WFI_FILL_WORDS);
        }
    }
    make_noise(payload, LONGEST);
    assert_false(wfi_copy_seeking_fill(out, payload, LONGEST));
    assert_false(wfi_may_hold_fill(payload, LONGEST));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(copy_is_exact_at_any_length_and_place),
        cmocka_unit_test(copy_notices_every_stretch_of_fill),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
