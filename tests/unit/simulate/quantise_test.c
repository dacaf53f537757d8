/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>

#include "simulate/quantise.h"
#include "simulate/random.h"
#include "support/check.h"

/* Source: the thresholds of Thompson, Moran and Swenson 2017, ch. 8: 0 and +-0.98159 sigma. */
static void two_bits_cut_at_the_best_thresholds(void **state)
{
    (void)state;
    const float sigma = 3.0f;
    const float volts[] = {-100.0f, -0.9817f * 3, -0.9814f * 3, -1e-6f,
                           1e-6f,   0.9814f * 3,  0.9817f * 3,  100.0f};
    const uint16_t want[] = {0, 0, 1, 1, 2, 2, 3, 3};
    uint16_t got[8];
    wfi_quantise(got, volts, 8, 2, sigma);
    assert_memory_equal(got, want, sizeof want);
}

static void every_sampler_clips_and_is_symmetric(void **state)
{
    (void)state;
    static const unsigned bits[] = {1, 2, 4, 8, 16};
    for (size_t i = 0; i < 5; i++) {
        const float volts[] = {-40.0f, -1e-4f, 1e-4f, 40.0f};
        const uint32_t n = 1u << bits[i];
        const uint16_t want[] = {0, (uint16_t)(n / 2 - 1), (uint16_t)(n / 2), (uint16_t)(n - 1)};
        uint16_t got[4];
        assert_true(wfi_quantiser_knows(bits[i]));
        wfi_quantise(got, volts, 4, bits[i], 1.0f);
        assert_memory_equal(got, want, sizeof want);
    }
    assert_false(wfi_quantiser_knows(3));
    assert_false(wfi_quantiser_knows(0));
}

/* Source: efficiencies at the optimum, Thompson, Emerson and Schwab 2007,
 * doi:10.1029/2006RS003585, tables of uniform quantisers; 4 levels with n = 3.3359: 0.882518.
 * eta = <x q>^2/<q^2>; its scatter over N samples is below 1/sqrt(N), of which the limit has 5. */
static void samplers_have_the_published_efficiency(void **state)
{
    (void)state;
    static const struct {
        unsigned bits;
        double eta;
    } known[] = {{1, 0.636620}, {2, 0.882518}, {4, 0.988457}, {8, 0.999912}};
    enum { N = 1 << 20 };
    float *const x = malloc(N * sizeof *x);
    uint16_t *const code = malloc(N * sizeof *code);
    wfi_random_normals(x, N, 0, 21, 22);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        wfi_quantise(code, x, N, known[i].bits, 1.0f);
        const double middle = (double)(1u << (known[i].bits - 1)) - 0.5;
        double cross = 0, power = 0;
        for (size_t k = 0; k < N; k++) {
            double level = (double)code[k] - middle;
            if (known[i].bits == 2)
                level = level > 1 ? 3.3359 : level < -1 ? -3.3359 : level > 0 ? 1 : -1;
            cross += level * (double)x[k];
            power += level * level;
        }
        wf_check_near("efficiency", cross * cross / power / N, known[i].eta, 5.0 / sqrt(N), "");
    }
    free(x);
    free(code);
}

/* Source: the order of VDIF's payload: from the lowest bits upwards, channel 0 first. */
static void two_channels_are_packed_from_the_lowest_bits(void **state)
{
    (void)state;
    const uint16_t first[] = {0, 1, 2, 3, 1, 0, 3, 2}, second[] = {3, 2, 2, 0, 1, 0, 3, 1};
    /* The pairs 0,3 | 1,2 | 2,2 | 3,0 | 1,1 | 0,0 | 3,3 | 2,1 make the word 0x6F053A9C. */
    const uint8_t want[] = {0x9c, 0x3a, 0x05, 0x6f};
    uint8_t got[4] = {0};
    wfi_pack(got, first, 8, 2, 1, 0, 2);
    wfi_pack(got, second, 8, 2, 1, 1, 2);
    assert_memory_equal(got, want, sizeof want);
}

static void other_widths_are_packed_too(void **state)
{
    (void)state;
    uint8_t got[4] = {0};
    const uint16_t ones[] = {1, 0, 1, 1, 0, 0, 0, 1, 1};
    wfi_pack(got, ones, 9, 1, 1, 0, 1);
    assert_memory_equal(got, ((const uint8_t[]){0x8d, 0x01, 0, 0}), 4);
    memset(got, 0, sizeof got);
    const uint16_t nibbles[] = {0xa, 0x5, 0xf};
    wfi_pack(got, nibbles, 3, 4, 1, 1, 1);
    assert_memory_equal(got, ((const uint8_t[]){0xa0, 0xf5, 0, 0}), 4);
    memset(got, 0, sizeof got);
    const uint16_t bytes[] = {0x12, 0xfe};
    wfi_pack(got, bytes, 2, 8, 1, 1, 2);
    assert_memory_equal(got, ((const uint8_t[]){0, 0x12, 0, 0xfe}), 4);
    memset(got, 0, sizeof got);
    const uint16_t words[] = {0x1234, 0xfedc};
    wfi_pack(got, words, 2, 16, 1, 0, 1);
    assert_memory_equal(got, ((const uint8_t[]){0x34, 0x12, 0xdc, 0xfe}), 4);
}

/* Real part in the lower bits, channel after channel. */
static void complex_samples_are_packed_real_part_first(void **state)
{
    (void)state;
    const uint16_t first[] = {0, 1, 2, 3}, second[] = {3, 2, 1, 1};
    /* (0,1) (3,2) | (2,3) (1,1) from the lowest bits: 0xb4, 0x5e. */
    uint8_t got[2] = {0};
    wfi_pack(got, first, 2, 2, 2, 0, 2);
    wfi_pack(got, second, 2, 2, 2, 1, 2);
    assert_memory_equal(got, ((const uint8_t[]){0xb4, 0x5e}), 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_bits_cut_at_the_best_thresholds),
        cmocka_unit_test(every_sampler_clips_and_is_symmetric),
        cmocka_unit_test(samplers_have_the_published_efficiency),
        cmocka_unit_test(two_channels_are_packed_from_the_lowest_bits),
        cmocka_unit_test(other_widths_are_packed_too),
        cmocka_unit_test(complex_samples_are_packed_real_part_first),
    };
    return cmocka_run_group_tests_name("simulate.quantise", tests, NULL, NULL);
}
