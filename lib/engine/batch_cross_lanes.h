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
    const operand zero = {lanes_all(0), lanes_all(0)};
    operand s00 = zero;
    operand s01 = zero;
    operand s10 = zero;
    operand s11 = zero;
    for (size_t s = 0; s < n_batches; s++, a += WFI_TILE_FLOATS, b += WFI_TILE_FLOATS) {
        const operand a0 = load_operand(a);
        const operand b0 = load_operand(b);
        const operand a1 = load_operand(a + input_stride);
        const operand b1 = load_operand(b + input_stride);
        add_product(&s00, a0, b0);
        add_product(&s01, a0, b1);
        add_product(&s10, a1, b0);
        add_product(&s11, a1, b1);
    }
    const lanes all[PAIR_SUMS] = {s00.re, s00.im, s01.re, s01.im, s10.re, s10.im, s11.re, s11.im};
    lanes_add_totals(sums, all);
}

/* A pair with itself: two powers, one product and its conjugate. */
static inline void add_pair(const float *a, size_t input_stride, size_t n_batches, float *sums)
{
    const lanes zero = lanes_all(0);
    operand power0 = {zero, zero};
    operand power1 = {zero, zero};
    operand both = {zero, zero};
    for (size_t s = 0; s < n_batches; s++, a += WFI_TILE_FLOATS) {
        const operand a0 = load_operand(a);
        const operand a1 = load_operand(a + input_stride);
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
