/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan: which samples, transforms, rotations and blocks a job needs; all that can be refused
 * is refused here. */
#include "engine/plan.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "engine/channelize_batch.h"
#include "engine/rotation.h"

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

static const size_t NONE = SIZE_MAX;

static void index_products(wf_plan *plan, const wf_correlation *correlation)
{
    for (size_t p = 0; p < correlation->n_products; p++) {
        plan->product_input[p][0] =
            wfi_grid_polarization_index(plan->grid, correlation->products[p].first);
        plan->product_input[p][1] =
            wfi_grid_polarization_index(plan->grid, correlation->products[p].second);
    }
}

static void fill_shape(wf_plan *plan, const wf_observation *observation)
{
    const size_t n = observation->n_stations;
    plan->shape = (wf_shape){
        .n_stations = n,
        .n_baselines = n * (n + 1) / 2,
        .n_bands = observation->n_bands,
        .n_channels = plan->grid->n_channels,
        .n_products = observation->correlation.n_products,
        .n_streams = plan->grid->n_streams,
        .n_spans = plan->grid->n_spans,
    };
    for (size_t b = 0; b < observation->n_bands; b++)
        plan->band_first_hz[b] = wf_band_first_channel_hz(observation, b);
}

static bool feeds(const wfi_feed *feed, const wfi_grid_stream *stream)
{
    return feed->i_recording == stream->i_recording && feed->i_thread == stream->i_thread &&
           feed->i_exclusion == stream->i_exclusion;
}

static wf_status find_feed(wf_plan *plan, size_t i_stream, wf_error *err)
{
    const wfi_grid_stream *stream = &plan->grid->streams[i_stream];
    size_t f = 0;
    while (f < plan->n_feeds && !feeds(&plan->feeds[f], stream))
        f++;
    plan->feed_of_stream[i_stream] = f;
    plan->recording_stream[stream->i_recording] = i_stream;
    if (f < plan->n_feeds)
        return WF_OK;
    wfi_feed *feed = &plan->feeds[plan->n_feeds++];
    feed->i_recording = stream->i_recording;
    feed->i_thread = stream->i_thread;
    feed->i_exclusion = stream->i_exclusion;
    return wfi_unpacker_init(&feed->unpacker, stream->format, err);
}

static wf_status collect_feeds(wf_plan *plan, wf_error *err)
{
    for (size_t r = 0; r < plan->n_recordings; r++)
        plan->recording_stream[r] = NONE;
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        plan->feed_of_stream[k] = NONE;
        if (wfi_bundles_use(&plan->bundles, k))
            WFI_TRY(find_feed(plan, k, err));
    }
    return WF_OK;
}

static wfi_channelizer channelizer_of(const wf_plan *plan, const wfi_bundle *bundle)
{
    const size_t k = bundle->streams[0];
    wfi_channelizer channelizer = wfi_channelizer_of(
        plan->kernels, &plan->transforms.distinct[plan->transforms.of_stream[k]],
        &plan->grid->streams[k], &plan->grid->pieces[plan->bundles.first_piece[k]],
        bundle->n_pieces, plan->rotated[k]);
    for (size_t i = 0; i < bundle->n_streams; i++) {
        if (!wfi_batch_decodes(plan->grid->streams[bundle->streams[i]].format))
            channelizer.batches = false;
    }
    return channelizer;
}

static wf_status create_channelizers(wf_plan *plan, wf_error *err)
{
    const wfi_bundles *bundles = &plan->bundles;
    WFI_TRY(wfi_allocate(&plan->channelizers, bundles->n_bundles, sizeof(wfi_channelizer),
                         "the plan", err));
    for (size_t b = 0; b < bundles->n_bundles; b++)
        plan->channelizers[b] = channelizer_of(plan, &bundles->bundles[b]);
    return WF_OK;
}

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

static bool fills_channels(const wfi_grid *grid, size_t i_stream)
{
    for (size_t p = 0; p < grid->n_pieces; p++) {
        if (grid->pieces[p].i_stream == i_stream)
            return true;
    }
    return false;
}

static void decide_rotation(wf_plan *plan, const wf_observation *observation,
                            const double *largest_rate_s_per_s)
{
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        const wfi_grid_stream *stream = &plan->grid->streams[k];
        const double rate = largest_rate_s_per_s[stream->i_station];
        double loss = 0;
        plan->rotated[k] = wfi_rotation_before_fft(&observation->correlation, stream, rate,
                                                   plan->grid->channel_width_hz, &loss);
        if (loss > plan->rotation_loss && fills_channels(plan->grid, k))
            plan->rotation_loss = loss;
        if (rate > plan->largest_rate_s_per_s)
            plan->largest_rate_s_per_s = rate;
    }
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

/* The longest block whose tiles the caches hold. One of few segments, whose products are stored and
 * added up more often, is worth it for few inputs only; else the tiles go past the caches. */
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
        if (plan->recording_stream[r] == NONE)
            continue;
        const size_t n_fft = plan->grid->streams[plan->recording_stream[r]].n_fft;
        const size_t bits = bits_of_sample_time(wf_recording_describe(plan->recordings[r]));
        const size_t fit = CHUNK_BYTES * 8 / (bits * n_fft);
        chunk = fit < chunk ? fit : chunk;
    }
    return chunk > plan->block_segments ? chunk / plan->block_segments * plan->block_segments
                                        : plan->block_segments;
}

/* Fixed by the job alone, never by the number of threads. */
static void choose_blocks(wf_plan *plan)
{
    const size_t longest = plan->by_channel ? BLOCK_SEGMENTS_MAX : BLOCK_SEGMENTS_MAX / 2;
    choose_block(plan, longest);
    plan->group_segments = GROUP_BLOCKS * longest;
    plan->stretch_segments = clamp(largest_power_of_2(STRETCH_SAMPLES / longest_segment(plan)),
                                   STRETCH_SEGMENTS_MIN, STRETCH_SEGMENTS_MAX);
    plan->chunk_segments = choose_chunk(plan);
}

static wf_status allocate_plan(wf_plan *plan, const wf_observation *observation,
                               const wf_recording *const *recordings, wf_error *err)
{
    static const char what[] = "the plan";
    const size_t n_streams = plan->grid->n_streams;
    plan->n_recordings = observation->n_recordings;
    WFI_TRY(wfi_allocate(&plan->band_first_hz, observation->n_bands, sizeof(double), what, err));
    WFI_TRY(wfi_allocate(&plan->recordings, plan->n_recordings, sizeof(*recordings), what, err));
    WFI_TRY(wfi_allocate(&plan->recording_stream, plan->n_recordings, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->feeds, n_streams, sizeof(wfi_feed), what, err));
    WFI_TRY(wfi_allocate(&plan->feed_of_stream, n_streams, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->rotated, n_streams, sizeof(bool), what, err));
    for (size_t r = 0; r < plan->n_recordings; r++)
        plan->recordings[r] = recordings[r];
    return WF_OK;
}

static wf_status lay_out(wf_plan *plan, const wf_observation *observation,
                         const wf_recording *const *recordings, wf_error *err)
{
    WFI_TRY(wfi_grid_create(&plan->grid, observation, recordings, err));
    WFI_TRY(allocate_plan(plan, observation, recordings, err));
    fill_shape(plan, observation);
    index_products(plan, &observation->correlation);
    return wfi_pairs_create(&plan->pairs, &plan->shape, plan->grid->n_polarizations,
                            plan->product_input, err);
}

static wf_status fill_plan(wf_plan *plan, const wf_observation *observation,
                           const wf_recording *const *recordings,
                           const double *largest_rate_s_per_s, const wf_plan_options *options,
                           wf_error *err)
{
    WFI_TRY(wfi_kernels_choose(&plan->kernels, options != NULL ? options->kernels : NULL, err));
    WFI_TRY(lay_out(plan, observation, recordings, err));
    decide_rotation(plan, observation, largest_rate_s_per_s);
    WFI_TRY(wfi_bundles_create(&plan->bundles, plan->grid, plan->rotated, plan->n_recordings, err));
    WFI_TRY(collect_feeds(plan, err));
    WFI_TRY(wfi_transforms_create(&plan->transforms, plan->grid, plan->rotated, err));
    WFI_TRY(create_channelizers(plan, err));
    choose_layout(plan);
    choose_blocks(plan);
    return WF_OK;
}

wf_status wf_plan_create(wf_plan **out, const wf_observation *observation,
                         const wf_recording *const *recordings, const double *largest_rate_s_per_s,
                         const wf_plan_options *options, wf_error *err)
{
    *out = NULL;
    wf_plan *plan = NULL;
    WFI_TRY(wfi_allocate(&plan, 1, sizeof *plan, "the plan", err));
    const wf_status status =
        fill_plan(plan, observation, recordings, largest_rate_s_per_s, options, err);
    if (status == WF_OK)
        *out = plan;
    else
        wf_plan_destroy(plan);
    return status;
}

void wf_plan_destroy(wf_plan *plan)
{
    if (plan == NULL)
        return;
    wfi_transforms_destroy(&plan->transforms);
    wfi_bundles_destroy(&plan->bundles);
    wfi_pairs_destroy(&plan->pairs);
    wfi_free(plan->channelizers);
    wfi_free(plan->band_first_hz);
    wfi_free(plan->recordings);
    wfi_free(plan->recording_stream);
    wfi_free(plan->feeds);
    wfi_free(plan->feed_of_stream);
    wfi_free(plan->rotated);
    wfi_grid_destroy(plan->grid);
    wfi_free(plan);
}

const wf_shape *wf_plan_shape(const wf_plan *plan)
{
    return &plan->shape;
}

const wf_span *wf_plan_span(const wf_plan *plan, size_t i_span)
{
    return &plan->grid->spans[i_span];
}

wf_baseline wf_plan_baseline(const wf_plan *plan, size_t i_baseline)
{
    size_t i = 0;
    while (i_baseline >= plan->shape.n_stations - i) {
        i_baseline -= plan->shape.n_stations - i;
        i++;
    }
    return (wf_baseline){i, i + i_baseline};
}

wf_span_input wf_plan_span_input(const wf_plan *plan, size_t i_span, size_t i_station,
                                 wf_polarization polarization)
{
    const wfi_grid *grid = plan->grid;
    const int i_polarization = wfi_grid_polarization_index(grid, polarization);
    if (i_polarization < 0)
        return (wf_span_input){.i_stream = -1};
    const size_t i_input = i_station * grid->n_polarizations + (size_t)i_polarization;
    const int i_stream = grid->span_stream[i_span * grid->n_inputs + i_input];
    if (i_stream < 0)
        return (wf_span_input){.i_stream = -1};
    return (wf_span_input){i_stream, grid->streams[i_stream].n_fft, grid->streams[i_stream].format};
}

double wf_plan_rotation_loss(const wf_plan *plan)
{
    return plan->rotation_loss;
}

const char *wf_plan_kernels(const wf_plan *plan)
{
    return plan->kernels->name;
}
