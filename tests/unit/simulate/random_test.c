/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>

#include "simulate/random.h"
#include "support/check.h"

/* Source: the known answers that the authors of the generator publish beside its reference code
 * for philox4x32 with 10 rounds; from memory. */
static void philox_gives_the_published_words(void **state)
{
    (void)state;
    static const struct {
        uint32_t counter[4], key[2], want[4];
    } known[] = {
        {{0, 0, 0, 0}, {0, 0}, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
        {{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff},
         {0xffffffff, 0xffffffff},
         {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
        {{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344},
         {0xa4093822, 0x299f31d0},
         {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        uint32_t got[4];
        wfi_philox(got, known[i].counter, known[i].key);
        assert_memory_equal(got, known[i].want, sizeof got);
    }
}

/* Box and Muller's transform of the generator's words by the C library in double precision. Limit:
 * float rounding of a radius up to 6.66 and of an angle of single precision. */
static void normals_are_box_and_muller_of_the_words(void **state)
{
    (void)state;
    enum { N = 4096 };
    float *const got = malloc(N * sizeof *got);
    const uint64_t seed = 0x0123456789abcdefu, sequence = 0xfedcba9876543210u;
    wfi_random_normals(got, N, 0, sequence, seed);
    const double pi = acos(-1.0);
    for (uint32_t i = 0; i < N / 4; i++) {
        const uint32_t counter[4] = {i, 0, 0x76543210u, 0xfedcba98u};
        const uint32_t key[2] = {0x89abcdefu, 0x01234567u};
        uint32_t word[4];
        wfi_philox(word, counter, key);
        for (int k = 0; k < 2; k++) {
            const double u = ((double)(word[2 * k] >> 1) + 0.5) / 2147483648.0;
            const double turn = (double)(int32_t)word[2 * k + 1] / 4294967296.0;
            const double radius = sqrt(-2.0 * log(u));
            wf_check_near("cosine", got[4 * i + 2 * (uint32_t)k], radius * cos(2 * pi * turn), 4e-6,
                          "");
            wf_check_near("sine", got[4 * i + 2 * (uint32_t)k + 1], radius * sin(2 * pi * turn),
                          4e-6, "");
        }
    }
    free(got);
}

static void normals_do_not_depend_on_the_division_into_calls(void **state)
{
    (void)state;
    enum { N = 3000 };
    float whole[N], parts[N];
    const uint64_t first = ((uint64_t)1 << 40) + 3;
    wfi_random_normals(whole, N, first, 5, 7);
    size_t done = 0;
    for (size_t n = 1; done < N; n = n * 2 + 1) {
        const size_t take = n < N - done ? n : N - done;
        wfi_random_normals(parts + done, take, first + done, 5, 7);
        done += take;
    }
    assert_memory_equal(whole, parts, sizeof whole);
}

static void other_sequences_and_seeds_are_other_numbers(void **state)
{
    (void)state;
    float a[64], b[64], c[64];
    wfi_random_normals(a, 64, 0, 1, 1);
    wfi_random_normals(b, 64, 0, 2, 1);
    wfi_random_normals(c, 64, 0, 1, 2);
    for (int i = 0; i < 64; i++) {
        assert_true(a[i] != b[i]);
        assert_true(a[i] != c[i]);
    }
}

/* Moments of a normal distribution; limits 5 standard deviations (5.7e-7 false alarm each): of the
 * mean 1/sqrt(N), the variance sqrt(2/N), the third moment sqrt(15/N), the fourth sqrt(96/N). */
static void normals_have_the_moments_of_a_normal_distribution(void **state)
{
    (void)state;
    enum { N = 1 << 20 };
    float *const x = malloc(N * sizeof *x);
    wfi_random_normals(x, N, 0, 11, 13);
    double m[5] = {0}, neighbours = 0;
    for (size_t i = 0; i < N; i++) {
        const double v = x[i];
        m[1] += v;
        m[2] += v * v;
        m[3] += v * v * v;
        m[4] += v * v * v * v;
        neighbours += v * (double)x[i ^ 1];
    }
    wf_check_near("mean", m[1] / N, 0.0, 5.0 * sqrt(1.0 / N), "");
    wf_check_near("variance", m[2] / N, 1.0, 5.0 * sqrt(2.0 / N), "");
    wf_check_near("third moment", m[3] / N, 0.0, 5.0 * sqrt(15.0 / N), "");
    wf_check_near("fourth moment", m[4] / N, 3.0, 5.0 * sqrt(96.0 / N), "");
    wf_check_near("pair correlation", neighbours / N, 0.0, 5.0 * sqrt(2.0 / N), "");
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(philox_gives_the_published_words),
        cmocka_unit_test(normals_are_box_and_muller_of_the_words),
        cmocka_unit_test(normals_do_not_depend_on_the_division_into_calls),
        cmocka_unit_test(other_sequences_and_seeds_are_other_numbers),
        cmocka_unit_test(normals_have_the_moments_of_a_normal_distribution),
    };
    return cmocka_run_group_tests_name("simulate.random", tests, NULL, NULL);
}
