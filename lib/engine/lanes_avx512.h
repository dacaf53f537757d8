/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Vectors of 16 floats by AVX-512. The same names as in lanes_avx2.h. */
#ifndef WFI_ENGINE_LANES_H
#define WFI_ENGINE_LANES_H

#include <immintrin.h>
#include <stddef.h>
#include <stdint.h>

enum { LANES = 16 };
typedef __m512 lanes;
typedef __m512i codes;

/* Keeps an operand in a register: the compiler would load it again at each use. */
#define LANES_KEEP(x) __asm__("" : "+v"(x))

static inline lanes lanes_load(const float *p)
{
    return _mm512_loadu_ps(p);
}

static inline void lanes_store(float *p, lanes x)
{
    _mm512_storeu_ps(p, x);
}

/* To memory, leaving the caches alone; p on a vector's boundary. */
static inline void lanes_store_past_caches(float *p, lanes x)
{
    _mm512_stream_ps(p, x);
}

/* Into L2, ahead of its use; p may be anything. */
static inline void lanes_fetch(const float *p)
{
    _mm_prefetch((const char *)p, _MM_HINT_T1);
}

static inline lanes lanes_all(float x)
{
    return _mm512_set1_ps(x);
}

static inline lanes lanes_add(lanes a, lanes b)
{
    return _mm512_add_ps(a, b);
}

static inline lanes lanes_subtract(lanes a, lanes b)
{
    return _mm512_sub_ps(a, b);
}

static inline lanes lanes_multiply(lanes a, lanes b)
{
    return _mm512_mul_ps(a, b);
}

/* x with the sign bits of `signs` flipped */
static inline lanes lanes_flip(lanes x, lanes signs)
{
    return _mm512_xor_ps(x, signs);
}

/* c + a b */
static inline lanes lanes_fma(lanes a, lanes b, lanes c)
{
    return _mm512_fmadd_ps(a, b, c);
}

/* c - a b */
static inline lanes lanes_fnma(lanes a, lanes b, lanes c)
{
    return _mm512_fnmadd_ps(a, b, c);
}

/* a b - c */
static inline lanes lanes_fms(lanes a, lanes b, lanes c)
{
    return _mm512_fmsub_ps(a, b, c);
}

static inline float lanes_total(lanes x)
{
    return _mm512_reduce_add_ps(x);
}

static inline lanes lanes_reverse(lanes x)
{
    const __m512i order = _mm512_setr_epi32(15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0);
    return _mm512_permutexvar_ps(order, x);
}

/* x without its first lane, then the first lane of `next`. */
static inline lanes lanes_shift_down(lanes x, lanes next)
{
    const __m512i order = _mm512_setr_epi32(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16);
    return _mm512_permutex2var_ps(x, order, next);
}

/* The reverse of that. */
static inline lanes lanes_shift_reverse(lanes x, lanes next)
{
    const __m512i order = _mm512_setr_epi32(16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1);
    return _mm512_permutex2var_ps(x, order, next);
}

/* 16 pairs re, im. */
static inline void lanes_load_pairs(const float *p, lanes *re, lanes *im)
{
    const __m512i even =
        _mm512_setr_epi32(0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30);
    const __m512i odd = _mm512_add_epi32(even, _mm512_set1_epi32(1));
    const lanes low = lanes_load(p);
    const lanes high = lanes_load(p + LANES);
    *re = _mm512_permutex2var_ps(low, even, high);
    *im = _mm512_permutex2var_ps(low, odd, high);
}

/* The last pair first. */
static inline void lanes_load_pairs_reversed(const float *p, lanes *re, lanes *im)
{
    const __m512i even =
        _mm512_setr_epi32(30, 28, 26, 24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2, 0);
    const __m512i odd = _mm512_add_epi32(even, _mm512_set1_epi32(1));
    const lanes low = lanes_load(p);
    const lanes high = lanes_load(p + LANES);
    *re = _mm512_permutex2var_ps(low, even, high);
    *im = _mm512_permutex2var_ps(low, odd, high);
}

static inline void lanes_store_pairs(float *p, lanes re, lanes im)
{
    const __m512i low = _mm512_setr_epi32(0, 16, 1, 17, 2, 18, 3, 19, 4, 20, 5, 21, 6, 22, 7, 23);
    const __m512i high = _mm512_add_epi32(low, _mm512_set1_epi32(8));
    lanes_store(p, _mm512_permutex2var_ps(re, low, im));
    lanes_store(p + LANES, _mm512_permutex2var_ps(re, high, im));
}

/* Rows become columns. */
static inline void lanes_transpose(lanes x[LANES])
{
    lanes a[LANES];
    for (size_t i = 0; i < LANES; i += 4) {
        const lanes low01 = _mm512_unpacklo_ps(x[i], x[i + 1]);
        const lanes high01 = _mm512_unpackhi_ps(x[i], x[i + 1]);
        const lanes low23 = _mm512_unpacklo_ps(x[i + 2], x[i + 3]);
        const lanes high23 = _mm512_unpackhi_ps(x[i + 2], x[i + 3]);
        a[i] = _mm512_shuffle_ps(low01, low23, 0x44);
        a[i + 1] = _mm512_shuffle_ps(low01, low23, 0xee);
        a[i + 2] = _mm512_shuffle_ps(high01, high23, 0x44);
        a[i + 3] = _mm512_shuffle_ps(high01, high23, 0xee);
    }
    for (size_t k = 0; k < 4; k++) {
        const lanes even01 = _mm512_shuffle_f32x4(a[k], a[k + 4], 0x88);
        const lanes odd01 = _mm512_shuffle_f32x4(a[k], a[k + 4], 0xdd);
        const lanes even23 = _mm512_shuffle_f32x4(a[k + 8], a[k + 12], 0x88);
        const lanes odd23 = _mm512_shuffle_f32x4(a[k + 8], a[k + 12], 0xdd);
        x[k] = _mm512_shuffle_f32x4(even01, even23, 0x88);
        x[k + 4] = _mm512_shuffle_f32x4(odd01, odd23, 0x88);
        x[k + 8] = _mm512_shuffle_f32x4(even01, even23, 0xdd);
        x[k + 12] = _mm512_shuffle_f32x4(odd01, odd23, 0xdd);
    }
}

/* p[i] += sum of the lanes of x[i] */
static inline void lanes_add_totals(float p[8], const lanes x[8])
{
    lanes pairs[4];
    for (size_t i = 0; i < 4; i++)
        pairs[i] = _mm512_add_ps(_mm512_unpacklo_ps(x[2 * i], x[2 * i + 1]),
                                 _mm512_unpackhi_ps(x[2 * i], x[2 * i + 1]));
    lanes fours[2];
    for (size_t i = 0; i < 2; i++)
        fours[i] = _mm512_add_ps(_mm512_shuffle_ps(pairs[2 * i], pairs[2 * i + 1], 0x44),
                                 _mm512_shuffle_ps(pairs[2 * i], pairs[2 * i + 1], 0xee));
    const lanes eights = _mm512_add_ps(_mm512_shuffle_f32x4(fours[0], fours[1], 0x88),
                                       _mm512_shuffle_f32x4(fours[0], fours[1], 0xdd));
    const lanes all = _mm512_add_ps(eights, _mm512_shuffle_f32x4(eights, eights, 0xb1));
    const __m256 totals = _mm512_castps512_ps256(_mm512_shuffle_f32x4(all, all, 0x08));
    _mm256_storeu_ps(p, _mm256_add_ps(_mm256_loadu_ps(p), totals));
}

static inline codes codes_load(const uint32_t *p)
{
    return _mm512_loadu_si512(p);
}

static inline void codes_store(uint32_t *p, codes x)
{
    _mm512_storeu_si512(p, x);
}

static inline codes codes_load_bytes(const uint8_t *p)
{
    return _mm512_loadu_si512(p);
}

static inline void codes_transpose(codes x[LANES])
{
    lanes y[LANES];
    for (size_t i = 0; i < LANES; i++)
        y[i] = _mm512_castsi512_ps(x[i]);
    lanes_transpose(y);
    for (size_t i = 0; i < LANES; i++)
        x[i] = _mm512_castps_si512(y[i]);
}

static inline codes codes_all(uint32_t x)
{
    return _mm512_set1_epi32((int)x);
}

/* For each lane, the four bytes at p + offset. */
static inline codes codes_gather(const uint8_t *p, codes offset)
{
    return _mm512_i32gather_epi32(offset, p, 1);
}

static inline codes codes_shift(codes x, codes count)
{
    return _mm512_srlv_epi32(x, count);
}

static inline codes codes_add(codes a, codes b)
{
    return _mm512_add_epi32(a, b);
}

static inline codes codes_subtract(codes a, codes b)
{
    return _mm512_sub_epi32(a, b);
}

static inline codes codes_shift_left(codes x, codes count)
{
    return _mm512_sllv_epi32(x, count);
}

static inline codes codes_shift_2(codes x)
{
    return _mm512_srli_epi32(x, 2);
}

static inline codes codes_shift_4(codes x)
{
    return _mm512_srli_epi32(x, 4);
}

static inline codes codes_or(codes a, codes b)
{
    return _mm512_or_si512(a, b);
}

static inline codes codes_and(codes x, codes mask)
{
    return _mm512_and_si512(x, mask);
}

static inline codes codes_xor(codes x, codes flip)
{
    return _mm512_xor_si512(x, flip);
}

static inline lanes codes_to_float(codes x)
{
    return _mm512_cvtepi32_ps(x);
}

/* Four levels, by the lowest two bits of each lane. */
static inline lanes codes_level(codes x, const float level[4])
{
    return _mm512_permutevar_ps(_mm512_broadcast_f32x4(_mm_loadu_ps(level)), x);
}

/* table[code], by the lowest four bits of each lane */
static inline lanes codes_look_up(codes x, lanes table)
{
    return _mm512_permutexvar_ps(x, table);
}

#endif
