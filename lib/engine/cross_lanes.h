/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cross-multiplication in vectors: four complex products of two by two inputs in eight
 * accumulators, four operands loaded for sixteen multiply-adds. Included by one file a family,
 * after channel_lanes.h. */
#ifndef WFI_ENGINE_CROSS_LANES_H
#define WFI_ENGINE_CROSS_LANES_H

enum { LINE_FLOATS = 16 }; /* of a cache */

static inline vector load_operand(const float *tile)
{
    vector x = load_vector(tile, WFI_TILE_CHANNELS);
    LANES_KEEP(x.re);
    LANES_KEEP(x.im);
    return x;
}

/* sum += a conj(b) */
static inline void add_product(vector *sum, vector a, vector b)
{
    sum->re = lanes_fma(a.re, b.re, sum->re);
    sum->im = lanes_fma(a.im, b.re, sum->im);
    sum->re = lanes_fma(a.im, b.im, sum->re);
    sum->im = lanes_fnma(a.re, b.im, sum->im);
}

/* Of two by two inputs. */
typedef struct four_sums {
    vector s00;
    vector s01;
    vector s10;
    vector s11;
} four_sums;

static inline void add_products(four_sums *sums, const float *a, const float *b,
                                size_t input_stride)
{
    const vector a0 = load_operand(a);
    const vector b0 = load_operand(b);
    const vector a1 = load_operand(a + input_stride);
    const vector b1 = load_operand(b + input_stride);
    add_product(&sums->s00, a0, b0);
    add_product(&sums->s01, a0, b1);
    add_product(&sums->s10, a1, b0);
    add_product(&sums->s11, a1, b1);
}

static inline vector load_sum(const float *sums, size_t product)
{
    return load_vector(sums + product * WFI_TILE_FLOATS, WFI_TILE_CHANNELS);
}

static inline void store_sum(float *sums, size_t product, vector x)
{
    store_vector(sums + product * WFI_TILE_FLOATS, WFI_TILE_CHANNELS, x);
}

/* LANES channels of a tile, and as much of `ahead` fetched. */
static inline void cross_vectors(const float *a, const float *b, size_t input_stride,
                                 size_t n_segments, const float *ahead, float *sums)
{
    four_sums all = {load_sum(sums, 0), load_sum(sums, 1), load_sum(sums, 2), load_sum(sums, 3)};
    for (size_t s = 0; s < n_segments; s++, a += WFI_TILE_FLOATS, b += WFI_TILE_FLOATS) {
        for (size_t i = 0; i < 2 * LANES; i += LINE_FLOATS)
            lanes_fetch(ahead + s * WFI_TILE_FLOATS + i);
        add_products(&all, a, b, input_stride);
    }
    store_sum(sums, 0, all.s00);
    store_sum(sums, 1, all.s01);
    store_sum(sums, 2, all.s10);
    store_sum(sums, 3, all.s11);
}

static void cross(const float *a, const float *b, size_t input_stride, size_t n_segments,
                  const float *ahead, float *sums)
{
    for (size_t i = 0; i < WFI_PAIR_FLOATS; i += LINE_FLOATS)
        lanes_fetch(sums + WFI_PAIR_FLOATS + i);
    for (size_t c = 0; c < WFI_TILE_CHANNELS; c += LANES)
        cross_vectors(a + c, b + c, input_stride, n_segments, ahead + 2 * c, sums + c);
}

#endif
