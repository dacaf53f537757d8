/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counter-based random words, and normal deviates from them in loops that vectorise.
 *
 * Logarithm, sine and cosine are polynomials written out here: the C library's differ in the last
 * bit from one processor to another, and the samples must not.
 */
#include "simulate/random.h"

#include <math.h>
#include <string.h>

/* Multipliers and Weyl increments of Philox 4x32: Salmon et al. 2011, table 2 and section 4. */
#define MULTIPLIER_0 0xD2511F53u
#define MULTIPLIER_1 0xCD9E8D57u
#define WEYL_0 0x9E3779B9u
#define WEYL_1 0xBB67AE85u
enum { N_ROUNDS = 10 };

enum { BATCH_COUNTERS = 128, BATCH_PAIRS = 2 * BATCH_COUNTERS, BATCH_NORMALS = 4 * BATCH_COUNTERS };

void wfi_philox(uint32_t out[4], const uint32_t counter[4], const uint32_t key[2])
{
    uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
    uint32_t k0 = key[0], k1 = key[1];
    for (int i = 0; i < N_ROUNDS; i++) {
        const uint64_t p0 = (uint64_t)MULTIPLIER_0 * c0;
        const uint64_t p1 = (uint64_t)MULTIPLIER_1 * c2;
        c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
        c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
        c1 = (uint32_t)p1;
        c3 = (uint32_t)p0;
        k0 += WEYL_0;
        k1 += WEYL_1;
    }
    out[0] = c0;
    out[1] = c1;
    out[2] = c2;
    out[3] = c3;
}

/* ln(u), u > 0 and normal; absolute error under 1e-6 for u in (0, 1]. The polynomial is a Chebyshev
 * fit of (ln(1 + x) - x + x^2/2)/x^3 over sqrt(1/2) - 1 <= x <= sqrt(2) - 1. */
static inline float logarithm(float u)
{
    int32_t bits;
    memcpy(&bits, &u, sizeof bits);
    /* 0x3f3504f3 is sqrt(1/2): the mantissa lands in [sqrt(1/2), sqrt(2)). */
    const int32_t exponent = (bits - 0x3f3504f3) >> 23;
    const int32_t mantissa_bits = bits - exponent * (1 << 23);
    float mantissa;
    memcpy(&mantissa, &mantissa_bits, sizeof mantissa);
    const float x = mantissa - 1.0f;
    float p = -0.081015840f;
    p = p * x + 0.127123207f;
    p = p * x - 0.129722357f;
    p = p * x + 0.142021716f;
    p = p * x - 0.166422471f;
    p = p * x + 0.200014681f;
    p = p * x - 0.250002980f;
    p = p * x + 0.333333284f;
    const float ln2 = 0.693147181f;
    return (float)exponent * ln2 + (x - 0.5f * x * x + x * x * x * p);
}

/* Sine and cosine of v half turns, |v| <= 1/2; Chebyshev fits, error under 1e-7. */
static inline void half_turn(float v, float *sine, float *cosine)
{
    const float q = v * v;
    float s = 0.0776576605f;
    s = s * q - 0.598291286f;
    s = s * q + 2.55007752f;
    s = s * q - 5.16771008f;
    s = s * q + 3.14159264f;
    float c = -0.0243963239f;
    c = c * q + 0.234937314f;
    c = c * q - 1.33521200f;
    c = c * q + 4.05870916f;
    c = c * q - 4.93480214f;
    c = c * q + 1.0f;
    *sine = v * s;
    *cosine = c;
}

/* The logarithm's error may leave a small negative where 0 is meant. */
static inline float square_root(float x)
{
    return sqrtf(x > 0.0f ? x : 0.0f);
}

static void box_muller(float *restrict out, const int32_t *restrict size,
                       const int32_t *restrict angle)
{
    for (int i = 0; i < BATCH_PAIRS; i++) {
        const float u = ((float)size[i] + 0.5f) * 0x1p-31f;
        const float radius = square_root(-2.0f * logarithm(u));
        float s, c;
        half_turn((float)angle[i] * 0x1p-32f, &s, &c);
        out[2 * i] = radius * (c * c - s * s);
        out[2 * i + 1] = radius * (2.0f * s * c);
    }
}

static void batch(float out[BATCH_NORMALS], uint64_t first_counter, uint64_t sequence,
                  const uint32_t key[2])
{
    int32_t size[BATCH_PAIRS], angle[BATCH_PAIRS];
    for (int i = 0; i < BATCH_COUNTERS; i++) {
        const uint64_t number = first_counter + (uint64_t)i;
        const uint32_t counter[4] = {(uint32_t)number, (uint32_t)(number >> 32), (uint32_t)sequence,
                                     (uint32_t)(sequence >> 32)};
        uint32_t word[4];
        wfi_philox(word, counter, key);
        for (int k = 0; k < 2; k++) {
            size[2 * i + k] = (int32_t)(word[2 * k] >> 1);
            memcpy(&angle[2 * i + k], &word[2 * k + 1], sizeof(int32_t));
        }
    }
    box_muller(out, size, angle);
}

void wfi_random_normals(float *out, size_t n, uint64_t first, uint64_t sequence, uint64_t seed)
{
    const uint32_t key[2] = {(uint32_t)seed, (uint32_t)(seed >> 32)};
    size_t done = 0;
    while (done < n) {
        const uint64_t number = first + done;
        const size_t skip = (size_t)(number % 4);
        const size_t left = n - done;
        if (skip == 0 && left >= BATCH_NORMALS) {
            batch(out + done, number / 4, sequence, key);
            done += BATCH_NORMALS;
            continue;
        }
        float normals[BATCH_NORMALS];
        batch(normals, number / 4, sequence, key);
        const size_t take = left < BATCH_NORMALS - skip ? left : BATCH_NORMALS - skip;
        memcpy(out + done, normals + skip, take * sizeof *out);
        done += take;
    }
}
