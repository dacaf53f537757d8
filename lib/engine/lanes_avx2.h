/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Vectors of 8 floats by AVX2 and FMA. The same names as in lanes_avx512.h. */
#ifndef WFI_ENGINE_LANES_H
#define WFI_ENGINE_LANES_H

#include <immintrin.h>
#include <stddef.h>
#include <stdint.h>

enum { LANES = 8 };
typedef __m256 lanes;
typedef __m256i codes;

/* Keeps an operand in a register: the compiler would load it again at each use. */
#define LANES_KEEP(x) __asm__("" : "+x"(x))

static inline lanes lanes_load(const float *p)
{
    return _mm256_loadu_ps(p);
}

static inline void lanes_store(float *p, lanes x)
{
    _mm256_storeu_ps(p, x);
}

/* To memory, leaving the caches alone; p on a vector's boundary. */
static inline void lanes_store_past_caches(float *p, lanes x)
{
    _mm256_stream_ps(p, x);
}

/* Into L2, ahead of its use; p may be anything. */
static inline void lanes_fetch(const float *p)
{
    _mm_prefetch((const char *)p, _MM_HINT_T1);
}

static inline lanes lanes_all(float x)
{
    return _mm256_set1_ps(x);
}

static inline lanes lanes_add(lanes a, lanes b)
{
    return _mm256_add_ps(a, b);
}

static inline lanes lanes_subtract(lanes a, lanes b)
{
    return _mm256_sub_ps(a, b);
}

static inline lanes lanes_multiply(lanes a, lanes b)
{
    return _mm256_mul_ps(a, b);
}

/* c + a b */
static inline lanes lanes_fma(lanes a, lanes b, lanes c)
{
    return _mm256_fmadd_ps(a, b, c);
}

/* c - a b */
static inline lanes lanes_fnma(lanes a, lanes b, lanes c)
{
    return _mm256_fnmadd_ps(a, b, c);
}

/* a b - c */
static inline lanes lanes_fms(lanes a, lanes b, lanes c)
{
    return _mm256_fmsub_ps(a, b, c);
}

static inline float lanes_total(lanes x)
{
    __m128 sum = _mm_add_ps(_mm256_castps256_ps128(x), _mm256_extractf128_ps(x, 1));
    sum = _mm_add_ps(sum, _mm_movehl_ps(sum, sum));
    return _mm_cvtss_f32(_mm_add_ss(sum, _mm_shuffle_ps(sum, sum, 1)));
}

static inline lanes lanes_reverse(lanes x)
{
    return _mm256_permutevar8x32_ps(x, _mm256_setr_epi32(7, 6, 5, 4, 3, 2, 1, 0));
}

/* x without its first lane, then the first lane of `next`. */
static inline lanes lanes_shift_down(lanes x, lanes next)
{
    const __m256i order = _mm256_setr_epi32(1, 2, 3, 4, 5, 6, 7, 0);
    return _mm256_permutevar8x32_ps(_mm256_blend_ps(x, next, 1), order);
}

/* The reverse of that. */
static inline lanes lanes_shift_reverse(lanes x, lanes next)
{
    const __m256i order = _mm256_setr_epi32(0, 7, 6, 5, 4, 3, 2, 1);
    return _mm256_permutevar8x32_ps(_mm256_blend_ps(x, next, 1), order);
}

/* 8 pairs re, im. */
static inline void lanes_load_pairs(const float *p, lanes *re, lanes *im)
{
    const lanes low = lanes_load(p);
    const lanes high = lanes_load(p + LANES);
    const lanes first = _mm256_permute2f128_ps(low, high, 0x20);
    const lanes second = _mm256_permute2f128_ps(low, high, 0x31);
    *re = _mm256_shuffle_ps(first, second, 0x88);
    *im = _mm256_shuffle_ps(first, second, 0xdd);
}

/* The last pair first. */
static inline void lanes_load_pairs_reversed(const float *p, lanes *re, lanes *im)
{
    const lanes low = lanes_load(p);
    const lanes high = lanes_load(p + LANES);
    const lanes first = _mm256_permute2f128_ps(high, low, 0x31);
    const lanes second = _mm256_permute2f128_ps(high, low, 0x20);
    *re = _mm256_permute_ps(_mm256_shuffle_ps(second, first, 0x88), 0x1b);
    *im = _mm256_permute_ps(_mm256_shuffle_ps(second, first, 0xdd), 0x1b);
}

static inline void lanes_store_pairs(float *p, lanes re, lanes im)
{
    const lanes first = _mm256_unpacklo_ps(re, im);
    const lanes second = _mm256_unpackhi_ps(re, im);
    lanes_store(p, _mm256_permute2f128_ps(first, second, 0x20));
    lanes_store(p + LANES, _mm256_permute2f128_ps(first, second, 0x31));
}

static inline codes codes_load(const uint32_t *p)
{
    return _mm256_loadu_si256((const __m256i *)(const void *)p);
}

static inline codes codes_all(uint32_t x)
{
    return _mm256_set1_epi32((int)x);
}

static inline codes codes_load_bytes(const uint8_t *p)
{
    return _mm256_loadu_si256((const __m256i *)(const void *)p);
}

/* Each lane takes the lane of x that `place` names. */
static inline codes codes_words(codes x, codes place)
{
    return _mm256_permutevar8x32_epi32(x, place);
}

/* For each lane, the four bytes at p + offset. */
static inline codes codes_gather(const uint8_t *p, codes offset)
{
    return _mm256_i32gather_epi32((const int *)(const void *)p, offset, 1);
}

static inline codes codes_shift(codes x, codes count)
{
    return _mm256_srlv_epi32(x, count);
}

static inline codes codes_times_8(codes x)
{
    return _mm256_slli_epi32(x, 3);
}

static inline codes codes_divided_by_32(codes x)
{
    return _mm256_srli_epi32(x, 5);
}

static inline codes codes_add(codes a, codes b)
{
    return _mm256_add_epi32(a, b);
}

static inline codes codes_and(codes x, codes mask)
{
    return _mm256_and_si256(x, mask);
}

static inline codes codes_xor(codes x, codes flip)
{
    return _mm256_xor_si256(x, flip);
}

static inline lanes codes_to_float(codes x)
{
    return _mm256_cvtepi32_ps(x);
}

/* Four levels, by the lowest two bits of each lane. */
static inline lanes codes_level(codes x, const float level[4])
{
    return _mm256_permutevar_ps(_mm256_broadcast_ps((const __m128 *)(const void *)level), x);
}

#endif
