/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bins of real samples, taken by two and two, in vectors. Included by one file a family, after
 * batch_channel_lanes.h. */
#ifndef WFI_ENGINE_BATCH_SPLIT_LANES_H
#define WFI_ENGINE_BATCH_SPLIT_LANES_H

/* What makes bins of real samples from those of the transform of half their length. */
typedef struct splitter {
    size_t n;
    const float *roots; /* of the plan */
    phase_line phases;
} splitter;

/* Twice bins k and n - k. */
static ALWAYS_INLINE void split_point(splitter s, size_t k, vector z, vector m, vector *bin,
                                      vector *mirrored)
{
    const vector w = {lanes_all(s.roots[2 * k]), lanes_all(s.roots[2 * k + 1])};
    const vector even = {lanes_add(z.re, m.re), lanes_subtract(z.im, m.im)};
    const vector odd = {lanes_add(z.im, m.im), lanes_subtract(m.re, z.re)};
    const vector turned = product(odd, w);
    *bin = (vector){lanes_add(even.re, turned.re), lanes_add(even.im, turned.im)};
    *mirrored = (vector){lanes_subtract(even.re, turned.re), lanes_subtract(turned.im, even.im)};
}

static ALWAYS_INLINE void put_alone(splitter s, bin_tiles to, size_t i, size_t k, vector z)
{
    vector bin;
    vector mirrored;
    split_point(s, k, z, z, &bin, &mirrored);
    put_bin(to, i, k, product(bin, phasor_at(s.phases, k)));
}

/* Bin k from point p of x, bin n - k from point q of y, for all streams. */
static ALWAYS_INLINE void put_pairs(splitter s, bin_tiles to, size_t k,
                                    vector x[WFI_BATCH_STREAMS][RADIX_MAX], size_t p,
                                    vector y[WFI_BATCH_STREAMS][RADIX_MAX], size_t q)
{
    vector bin[WFI_BATCH_STREAMS];
    vector mirrored[WFI_BATCH_STREAMS];
    for (size_t i = 0; i < to.n_streams; i++)
        split_point(s, k, x[i][p], y[i][q], &bin[i], &mirrored[i]);
    const vector of_bin = phasor_at(s.phases, k);
    for (size_t i = 0; i < to.n_streams; i++)
        put_bin(to, i, k, product(bin[i], of_bin));
    const vector of_mirror = phasor_at(s.phases, s.n - k);
    for (size_t i = 0; i < to.n_streams; i++)
        put_bin(to, i, s.n - k, product(mirrored[i], of_mirror));
}

/* The butterfly of bin 0, whose other bins are each other's mirror images. */
static ALWAYS_INLINE void split_lowest(unfinished from, splitter s, bin_tiles to)
{
    const size_t step = from.n / from.radix;
    vector x[WFI_BATCH_STREAMS][RADIX_MAX];
    for (size_t i = 0; i < to.n_streams; i++) {
        last_butterfly(from, i, 0, x[i]);
        put_alone(s, to, i, 0, x[i][0]);
        put_alone(s, to, i, from.n / 2, x[i][from.radix / 2]);
    }
    for (size_t p = 1; p < from.radix / 2; p++)
        put_pairs(s, to, p * step, x, p, x, from.radix - p);
}

/* The other one that is its own mirror image, of bin n / radix / 2. */
static ALWAYS_INLINE void split_middle(unfinished from, splitter s, bin_tiles to)
{
    const size_t step = from.n / from.radix;
    vector x[WFI_BATCH_STREAMS][RADIX_MAX];
    for (size_t i = 0; i < to.n_streams; i++)
        last_butterfly(from, i, step / 2, x[i]);
    for (size_t p = 0; p < from.radix / 2; p++)
        put_pairs(s, to, step / 2 + p * step, x, p, x, from.radix - 1 - p);
}

/* The butterfly of bin k and that of its mirror image, n / radix - k. */
static ALWAYS_INLINE void split_mirrors(unfinished from, splitter s, bin_tiles to, size_t k)
{
    const size_t step = from.n / from.radix;
    vector x[WFI_BATCH_STREAMS][RADIX_MAX];
    vector y[WFI_BATCH_STREAMS][RADIX_MAX];
    for (size_t i = 0; i < to.n_streams; i++) {
        last_butterfly(from, i, k, x[i]);
        last_butterfly(from, i, step - k, y[i]);
    }
#pragma GCC unroll 4 /* registers have no numbers that could be counted */
    for (size_t p = 0; p < from.radix / 2; p++) {
        put_pairs(s, to, k + p * step, x, p, y, from.radix - 1 - p);
        put_pairs(s, to, step - k + p * step, y, p, x, from.radix - 1 - p);
    }
}

/* Part after part of what the early stages left, each with its mirror image; the parts of bins 0
 * and n_parts / 2 are their own. */
static ALWAYS_INLINE void split_all(unfinished from, splitter s, bin_tiles to)
{
    const size_t step = from.n / from.radix;
    for (size_t part = 0; part <= from.n_parts / 2; part++) {
        const bool alone = part == 0 || part == from.n_parts / 2;
        for (size_t i = 0; i < to.n_streams; i++) {
            run_middle_stages(from, i, part);
            if (!alone)
                run_middle_stages(from, i, from.n_parts - part);
        }
        if (part == 0)
            split_lowest(from, s, to);
        const size_t end = alone ? step / 2 : step;
        for (size_t k = part == 0 ? from.n_parts : part; k < end; k += from.n_parts)
            split_mirrors(from, s, to, k);
        if (step / 2 % from.n_parts == part)
            split_middle(from, s, to);
    }
}

static ALWAYS_INLINE void split_of(unfinished from, size_t radix, splitter s, bin_tiles to,
                                   size_t n_streams)
{
    from.radix = radix;
    to.n_streams = n_streams;
    split_all(from, s, to);
}

/* Each radix and number of streams has a loop with its own constants. */
static void split_at_once(unfinished from, splitter s, bin_tiles to)
{
    const bool short_last = from.radix == 4;
    if (to.n_streams == 2 && short_last)
        split_of(from, 4, s, to, 2);
    else if (to.n_streams == 2)
        split_of(from, 8, s, to, 2);
    else if (short_last)
        split_of(from, 4, s, to, 1);
    else
        split_of(from, 8, s, to, 1);
}

static void batch_split(const wfi_batch_plan *plan, const wfi_batch_destination *to,
                        const wfi_batch_phases *phases, size_t n_streams, float *const *works,
                        float *const *tiles)
{
    const splitter s = {plan->n, plan->roots, phase_line_of(phases)};
    split_at_once(unfinished_of(plan, n_streams, works), s, bin_tiles_of(to, n_streams, tiles));
}

#endif
