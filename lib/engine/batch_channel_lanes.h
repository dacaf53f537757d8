/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Channels of batches in vectors: split or not, put into phase, transposed into tiles. Included by
 * one file a family, after batch_transform_lanes.h. */
#ifndef WFI_ENGINE_BATCH_CHANNEL_LANES_H
#define WFI_ENGINE_BATCH_CHANNEL_LANES_H

/* Twice bins k and n - k of all lanes. */
static inline void split_point(const wfi_batch_plan *plan, const float *twiddle, const float *work,
                               size_t k, vector *bin, vector *mirrored)
{
    const size_t n = plan->n;
    const vector z = load_point(work, plan->place[k]);
    const vector m = load_point(work, plan->place[n - k]);
    const vector w = {lanes_all(twiddle[k]), lanes_all(twiddle[n / 2 + 1 + k])};
    const vector even = {lanes_add(z.re, m.re), lanes_subtract(z.im, m.im)};
    const vector odd = {lanes_add(z.im, m.im), lanes_subtract(m.re, z.re)};
    const vector turned = product(odd, w);
    *bin = (vector){lanes_add(even.re, turned.re), lanes_add(even.im, turned.im)};
    *mirrored = (vector){lanes_subtract(even.re, turned.re), lanes_subtract(turned.im, even.im)};
}

/* LANES channels of all lanes. */
typedef struct channel_block {
    float re[LANES][LANES];
    float im[LANES][LANES];
} channel_block;

/* Channel first + i of a block, put into phase. */
static inline void put_point(channel_block *block, size_t i, vector x, vector p, bool conjugate)
{
    const vector y = conjugate ? conjugate_product(x, p) : product(x, p);
    lanes_store(block->re[i], y.re);
    lanes_store(block->im[i], y.im);
}

/* Column s of the rows to out + s * WFI_TILE_FLOATS. */
static inline void store_transposed(const float rows[LANES][LANES], float *out, bool past_caches)
{
    lanes columns[LANES];
    for (size_t i = 0; i < LANES; i++)
        columns[i] = lanes_load(rows[i]);
    lanes_transpose(columns);
    for (size_t s = 0; s < LANES; s++, out += WFI_TILE_FLOATS) {
        if (past_caches)
            lanes_store_past_caches(out, columns[s]);
        else
            lanes_store(out, columns[s]);
    }
}

/* A block to the tiles of its segments, which follow one another. */
static inline void store_block(const channel_block *block, const wfi_destination *to,
                               size_t channel, float *tiles)
{
    float *at = tiles + channel / WFI_TILE_CHANNELS * to->tile_stride + channel % WFI_TILE_CHANNELS;
    store_transposed(block->re, at, to->past_caches);
    store_transposed(block->im, at + WFI_TILE_CHANNELS, to->past_caches);
}

/* Channels first .. first + LANES - 1 and their mirror images n - first - LANES ... Bins k fill the
 * one and bins n - k the other; `last` is bin n - first - LANES, which the step before has made.
 */
static inline void split_block(const wfi_batch_plan *plan, const wfi_destination *to,
                               const wfi_batch_phases *phases, const float *twiddle,
                               size_t n_streams, float *const *works, size_t first, vector *last,
                               float *const *tiles)
{
    const bool conjugate = to->conjugate;
    const size_t n = plan->n;
    const size_t high = n - first - LANES;
    const size_t to_bins = conjugate ? high : first;
    const size_t to_mirrors = conjugate ? first : high;
    channel_block bins[2];
    channel_block mirrors[2];
    for (size_t j = LANES; j-- > 0;) {
        const size_t at_bin = conjugate ? LANES - 1 - j : j;
        const size_t at_mirror = conjugate ? j : LANES - 1 - j;
        const vector of_bin = batch_phasors_at(phases, to_bins + at_bin);
        const vector of_mirror = batch_phasors_at(phases, to_mirrors + at_mirror);
        for (size_t i = 0; i < n_streams; i++) {
            vector bin;
            vector mirrored;
            split_point(plan, twiddle, works[i], first + j, &bin, &mirrored);
            put_point(&bins[i], at_bin, bin, of_bin, conjugate);
            put_point(&mirrors[i], at_mirror, last[i], of_mirror, conjugate);
            last[i] = mirrored;
        }
    }
    for (size_t i = 0; i < n_streams; i++) {
        store_block(&bins[i], to, to_bins, tiles[i]);
        store_block(&mirrors[i], to, to_mirrors, tiles[i]);
    }
}

/* Two streams at once share the phasors. */
static inline void batch_split_streams(const wfi_batch_plan *plan, const wfi_destination *to,
                                       const wfi_batch_phases *phases, const float *twiddle,
                                       size_t n_streams, float *const *works, float *const *tiles)
{
    vector last[2];
    for (size_t i = 0; i < n_streams; i++) {
        const vector middle = load_point(works[i], plan->place[plan->n / 2]);
        last[i] = (vector){lanes_multiply(middle.re, lanes_all(2.0f)),
                           lanes_multiply(middle.im, lanes_all(-2.0f))};
    }
    for (size_t first = plan->n / 2; first > 0;) {
        first -= LANES;
        split_block(plan, to, phases, twiddle, n_streams, works, first, last, tiles);
    }
}

static void batch_split(const wfi_batch_plan *plan, const wfi_destination *to,
                        const wfi_batch_phases *phases, const float *twiddle, size_t n_streams,
                        float *const *works, float *const *tiles)
{
    size_t i = 0;
    for (; i + 2 <= n_streams; i += 2)
        batch_split_streams(plan, to, phases, twiddle, 2, works + i, tiles + i);
    if (i < n_streams)
        batch_split_streams(plan, to, phases, twiddle, 1, works + i, tiles + i);
}

static void batch_place(const wfi_batch_plan *plan, const wfi_destination *to,
                        const wfi_batch_phases *phases, size_t first_bin, const float *work,
                        float *tiles)
{
    channel_block block;
    for (size_t c = 0; c < to->n_channels; c += LANES) {
        for (size_t i = 0; i < LANES; i++) {
            const vector bin = load_point(work, plan->place[(first_bin + c + i) % plan->n]);
            put_point(&block, i, bin, batch_phasors_at(phases, c + i), false);
        }
        store_block(&block, to, to->first_channel + c, tiles);
    }
}

#endif
