/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a plan is cut: tiles, blocks, groups, stretches, chunks. */
#include "engine/blocks.h"

#include <stdint.h>

/* Tiles of a larger block would be driven out of the caches one by one before they are read, each
 * at the price of a fetch and a write: they go to memory at once, and come back while other tiles
 * are multiplied. Up to 8 MB of a third-level cache of one's own both ways take the same time;
 * where all cores work, or neighbours do, each has less. */
static const size_t CACHED_BYTES = (size_t)4 << 20;
/* Tiles of a shorter block are nearer. */
static const size_t NEAR_BYTES = (size_t)2 << 20;
enum { BLOCK_SEGMENTS_MIN = 32, BLOCK_SEGMENTS_MAX = 128, FEW_SLOTS = 8, GROUP_BLOCKS = 8 };
enum { TILE_BYTES = WFI_TILE_FLOATS * sizeof(float) };
/* A stretch is one thread's unit of work: long against the addition of its sums, short enough for
 * many of them in one integration. */
static const size_t STRETCH_SAMPLES = (size_t)1 << 22;
enum { STRETCH_SEGMENTS_MIN = 64, STRETCH_SEGMENTS_MAX = 8192 };
/* Packed samples that a worker reads at once, of one recording. */
static const size_t CHUNK_BYTES = (size_t)1 << 18;

static bool any_batches(const wf_plan *plan)
{
    for (size_t b = 0; b < plan->bundles.n_bundles; b++) {
        if (plan->channelizers[b].batches)
            return true;
    }
    return false;
}

static bool are_whole_tiles(const wfi_grid *grid)
{
    for (size_t p = 0; p < grid->n_pieces; p++) {
        if (grid->pieces[p].first_channel % WFI_TILE_CHANNELS != 0 ||
            grid->pieces[p].n_channels % WFI_TILE_CHANNELS != 0)
            return false;
    }
    return grid->n_channels % WFI_TILE_CHANNELS == 0;
}

/* Batches write tiles by channel. What goes segment by segment can be turned to them, if all its
 * tiles are whole. */
static void choose_layout(wf_plan *plan)
{
    const size_t n = plan->grid->n_channels;
    plan->by_channel = any_batches(plan) && are_whole_tiles(plan->grid);
    plan->n_rows = plan->by_channel ? n : (n + WFI_TILE_CHANNELS - 1) / WFI_TILE_CHANNELS;
    for (size_t b = 0; b < plan->bundles.n_bundles; b++)
        plan->channelizers[b].batches = plan->channelizers[b].batches && plan->by_channel;
}

static size_t bits_of_sample_time(const wf_recording_info *info)
{
    size_t bits = 0;
    for (size_t t = 0; t < info->n_threads; t++) {
        const wf_sample_format *format = &info->threads[t].format;
        bits += (size_t)format->bits * (format->is_complex ? 2 : 1) * format->n_channels;
    }
    return bits;
}

static size_t largest_power_of_2(size_t value)
{
    size_t power = 1;
    while (power <= value / 2)
        power *= 2;
    return power;
}

static size_t clamp(size_t value, size_t low, size_t high)
{
    return value < low ? low : value > high ? high : value;
}

static size_t longest_segment(const wf_plan *plan)
{
    size_t longest = 0;
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        const size_t n_fft = plan->grid->streams[k].n_fft;
        longest = n_fft > longest ? n_fft : longest;
    }
    return longest;
}

/* The longest block whose tiles are near, or at least cached. One of few segments, whose products
 * are stored and added up more often, is worth it for few inputs only; else the tiles go past the
 * caches. */
static void choose_block(wf_plan *plan, size_t longest)
{
    const size_t segment_bytes = plan->n_rows * plan->grid->n_bands * plan->pairs.n_slots *
                                 (plan->by_channel ? TILE_BYTES / WFI_TILE_SEGMENTS : TILE_BYTES);
    const size_t least = plan->pairs.n_slots <= FEW_SLOTS ? BLOCK_SEGMENTS_MIN : longest / 2;
    plan->block_segments = longest;
    while (plan->block_segments > least && plan->block_segments * segment_bytes > NEAR_BYTES)
        plan->block_segments /= 2;
    plan->past_caches = plan->block_segments * segment_bytes > CACHED_BYTES;
    if (plan->past_caches)
        plan->block_segments = longest;
    for (size_t b = 0; b < plan->bundles.n_bundles; b++)
        plan->channelizers[b].past_caches = plan->past_caches;
}

static size_t choose_chunk(const wf_plan *plan)
{
    size_t chunk = SIZE_MAX;
    for (size_t r = 0; r < plan->n_recordings; r++) {
        if (plan->recording_stream[r] == SIZE_MAX)
            continue;
        const size_t n_fft = plan->grid->streams[plan->recording_stream[r]].n_fft;
        const size_t bits = bits_of_sample_time(wf_recording_describe(plan->recordings[r]));
        const size_t fit = CHUNK_BYTES * 8 / (bits * n_fft);
        chunk = fit < chunk ? fit : chunk;
    }
    return chunk > plan->block_segments ? chunk / plan->block_segments * plan->block_segments
                                        : plan->block_segments;
}

void wfi_blocks_choose(wf_plan *plan)
{
    choose_layout(plan);
    const size_t longest = plan->by_channel ? BLOCK_SEGMENTS_MAX : BLOCK_SEGMENTS_MAX / 2;
    choose_block(plan, longest);
    plan->group_segments = GROUP_BLOCKS * longest;
    plan->stretch_segments = clamp(largest_power_of_2(STRETCH_SAMPLES / longest_segment(plan)),
                                   STRETCH_SEGMENTS_MIN, STRETCH_SEGMENTS_MAX);
    plan->chunk_segments = choose_chunk(plan);
}
