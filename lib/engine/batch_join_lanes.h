/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bins of rotated samples, the even and the odd ones by themselves, in vectors. Included by one
 * file a family, after batch_channel_lanes.h. */
#ifndef WFI_ENGINE_BATCH_JOIN_LANES_H
#define WFI_ENGINE_BATCH_JOIN_LANES_H

/* What makes bins of samples from the transforms of the even and of the odd ones. */
typedef struct joiner {
    phase_line phases;
    const float *roots; /* of the plan */
    const float *roots_again;
    size_t first_bin; /* of 2 n */
    size_t n_bins;
} joiner;

/* x + w y; `again` is w, hidden as in twiddled() */
static ALWAYS_INLINE vector joined(vector x, vector y, const float *w, const float *again)
{
    x.re = lanes_fma(y.re, lanes_all(w[0]), x.re);
    x.im = lanes_fma(y.im, lanes_all(again[0]), x.im);
    return (vector){lanes_fnma(y.im, lanes_all(w[1]), x.re),
                    lanes_fma(y.re, lanes_all(again[1]), x.im)};
}

/* The bin of the run that point p of the butterflies, `bin` of n, makes, if any. */
static ALWAYS_INLINE void put_joined(size_t n, joiner j, bin_tiles to, size_t bin, vector even,
                                     vector odd)
{
    const size_t k = (bin - j.first_bin) & (n - 1);
    if (k >= j.n_bins)
        return;
    const size_t root = 2 * ((j.first_bin + k) & (2 * n - 1));
    const vector x = joined(even, odd, j.roots + root, j.roots_again + root);
    put_bin(to, 0, k, product(x, phasor_at(j.phases, k)));
}

/* Part after part of what the early stages left, those of even and of odd samples. */
static ALWAYS_INLINE void join_all(unfinished from, joiner j, bin_tiles to)
{
    const size_t step = from.n / from.radix;
    for (size_t part = 0; part < from.n_parts; part++) {
        for (size_t i = 0; i < 2; i++)
            run_middle_stages(from, i, part);
        for (size_t bin = part; bin < step; bin += from.n_parts) {
            if (((bin - j.first_bin) & (step - 1)) >= j.n_bins)
                continue;
            vector even[RADIX_MAX];
            vector odd[RADIX_MAX];
            last_butterfly(from, 0, bin, even);
            last_butterfly(from, 1, bin, odd);
#pragma GCC unroll 8
            for (size_t p = 0; p < from.radix; p++)
                put_joined(from.n, j, to, bin + p * step, even[p], odd[p]);
        }
    }
}

static void batch_join(const wfi_batch_plan *plan, const wfi_batch_destination *to,
                       const wfi_batch_phases *phases, size_t first_bin, size_t n_bins, bool again,
                       float *even, float *odd, float *tiles)
{
    float *const works[2] = {even, odd};
    const joiner j = {phase_line_of(phases), plan->roots, hidden(plan->roots), first_bin, n_bins};
    const bin_tiles out = bin_tiles_of(to, 1, &tiles);
    unfinished from = unfinished_of(plan, 2, works);
    if (again)
        from.middle = from.last;
    if (from.radix == 4) {
        from.radix = 4;
        join_all(from, j, out);
    } else {
        from.radix = 8;
        join_all(from, j, out);
    }
}

#endif
