/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What finishes batches in vectors: tiles, and the last stages of the transforms. Included by one
 * file a family, after batch_phases_lanes.h.
 *
 * What loops use is passed by value: a vector that is stored could be anything to the compiler, and
 * what is pointed to would be loaded again after each.
 */
#ifndef WFI_ENGINE_BATCH_CHANNEL_LANES_H
#define WFI_ENGINE_BATCH_CHANNEL_LANES_H

enum { RADIX_MAX = 8 };

/* Where the bins of one or two streams go. */
typedef struct bin_tiles {
    size_t n_streams;
    float *tiles[WFI_BATCH_STREAMS];
    ptrdiff_t stride;
    lanes sign; /* flips the imaginary parts, or not */
    bool past_caches;
} bin_tiles;

static bin_tiles bin_tiles_of(const wfi_batch_destination *to, size_t n_streams,
                              float *const *tiles)
{
    return (bin_tiles){
        .n_streams = n_streams,
        .tiles = {tiles[0], tiles[n_streams - 1]},
        .stride = to->bin_stride,
        .sign = lanes_all(to->conjugate ? -0.0f : 0.0f),
        .past_caches = to->past_caches,
    };
}

static ALWAYS_INLINE void put_bin(bin_tiles to, size_t i, size_t k, vector x)
{
    float *at = to.tiles[i] + (ptrdiff_t)k * to.stride;
    x.im = lanes_flip(x.im, to.sign);
    store_to_tile(at, x, to.past_caches);
}

/* Transforms of one or two streams, to be finished by a stage of this radix. */
typedef struct unfinished {
    size_t n;
    size_t radix;
    const uint32_t *place;
    size_t n_parts;
    const wfi_batch_stage *middle; /* stages, up to the last */
    const wfi_batch_stage *last;
    float *works[2];
} unfinished;

static unfinished unfinished_of(const wfi_batch_plan *plan, size_t n_streams, float *const *works)
{
    return (unfinished){
        .n = plan->n,
        .radix = plan->stages[plan->n_stages - 1].radix,
        .place = plan->place,
        .n_parts = plan->n_parts,
        .middle = plan->stages + plan->n_early,
        .last = plan->stages + plan->n_stages - 1,
        .works = {works[0], works[n_streams - 1]},
    };
}

/* The middle stages of the part that has bin `bin`, below n_parts. */
static void run_middle_stages(unfinished from, size_t i, size_t bin)
{
    run_stages(from.middle, from.last, from.works[i] + from.place[bin] * POINT_FLOATS);
}

/* The last stage's butterfly that has bin `bin`, below n / radix: bins bin + p n / radix. */
static ALWAYS_INLINE void last_butterfly(unfinished from, size_t i, size_t bin,
                                         vector bins[RADIX_MAX])
{
    const float *part = from.works[i] + from.place[bin] * POINT_FLOATS;
    const butterfly to = {.results = bins};
    vector x[RADIX_MAX];
    for (size_t q = 0; q < from.radix; q++)
        x[q] = load_point(part, q);
    transform_points(&to, from.radix, x);
}

static void batch_turn(float *tiles, size_t row_stride)
{
    for (size_t part = 0; part < WFI_TILE_FLOATS; part += LANES) {
        lanes rows[LANES];
        for (size_t i = 0; i < LANES; i++)
            rows[i] = lanes_load(tiles + i * row_stride + part);
        lanes_transpose(rows);
        for (size_t i = 0; i < LANES; i++)
            lanes_store(tiles + i * row_stride + part, rows[i]);
    }
}

#endif
