/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cross-multiplication of batches in vectors: a lane has a segment of its own, and the lanes
 * are added up where a block ends. Included by one file a family, after cross_lanes.h. */
#ifndef WFI_ENGINE_BATCH_CROSS_LANES_H
#define WFI_ENGINE_BATCH_CROSS_LANES_H

enum { PAIR_SUMS = 2 * WFI_PAIR_PRODUCTS };

/* Two pairs of inputs. */
static inline void add_pairs(const float *a, const float *b, size_t input_stride, size_t n_batches,
                             float *sums)
{
    const vector zero = {lanes_all(0), lanes_all(0)};
    four_sums s = {zero, zero, zero, zero};
    for (size_t i = 0; i < n_batches; i++, a += WFI_TILE_FLOATS, b += WFI_TILE_FLOATS)
        add_products(&s, a, b, input_stride);
    const lanes all[PAIR_SUMS] = {s.s00.re, s.s00.im, s.s01.re, s.s01.im,
                                  s.s10.re, s.s10.im, s.s11.re, s.s11.im};
    lanes_add_totals(sums, all);
}

/* A pair with itself: two powers, one product and its conjugate. */
static inline void add_pair(const float *a, size_t input_stride, size_t n_batches, float *sums)
{
    const lanes zero = lanes_all(0);
    vector power0 = {zero, zero};
    vector power1 = {zero, zero};
    vector both = {zero, zero};
    for (size_t s = 0; s < n_batches; s++, a += WFI_TILE_FLOATS) {
        const vector a0 = load_operand(a);
        const vector a1 = load_operand(a + input_stride);
        power0.re = lanes_fma(a0.re, a0.re, power0.re);
        power0.im = lanes_fma(a0.im, a0.im, power0.im);
        power1.re = lanes_fma(a1.re, a1.re, power1.re);
        power1.im = lanes_fma(a1.im, a1.im, power1.im);
        add_product(&both, a0, a1);
    }
    const lanes all[PAIR_SUMS] = {lanes_add(power0.re, power0.im),
                                  zero,
                                  both.re,
                                  both.im,
                                  both.re,
                                  lanes_subtract(zero, both.im),
                                  lanes_add(power1.re, power1.im),
                                  zero};
    lanes_add_totals(sums, all);
}

static void batch_cross(const float *row, size_t input_stride, size_t n_batches,
                        const wfi_pair_block *blocks, size_t n_blocks, const float *next,
                        size_t n_next, float *sums)
{
    const float *const next_end = next + n_next;
    const size_t n_ahead = (n_next / LINE_FLOATS + n_blocks - 1) / n_blocks * LINE_FLOATS;
    for (size_t i = 0; i < n_blocks; i++, sums += PAIR_SUMS) {
        const float *ahead_end = next + n_ahead < next_end ? next + n_ahead : next_end;
        for (; next < ahead_end; next += LINE_FLOATS)
            lanes_fetch(next);
        const float *a = row + 2 * blocks[i].first * input_stride;
        const float *b = row + 2 * blocks[i].second * input_stride;
        if (a == b)
            add_pair(a, input_stride, n_batches, sums);
        else
            add_pairs(a, b, input_stride, n_batches, sums);
    }
}

#endif
