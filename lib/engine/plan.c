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
#include "engine/rotation.h"

/* Channels of all inputs and bands of one block: half of the 1 MiB of L2 that a core of this
 * decade has, the rest being for transforms. */
static const size_t BLOCK_BYTES = (size_t)512 << 10;
enum { BLOCK_SEGMENTS_MAX = 64 };
/* Packed samples that a worker reads at once, of one recording. */
static const size_t CHUNK_BYTES = (size_t)1 << 20;

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
    plan->n_tiles = (plan->grid->n_channels + WFI_TILE_CHANNELS - 1) / WFI_TILE_CHANNELS;
    for (size_t b = 0; b < observation->n_bands; b++)
        plan->band_first_hz[b] = wf_band_first_channel_hz(observation, b);
}

/* Pieces stand in the order of their streams. */
static void index_pieces(wf_plan *plan)
{
    size_t piece = 0;
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        plan->first_piece[k] = piece;
        while (piece < plan->grid->n_pieces && plan->grid->pieces[piece].i_stream == k)
            piece++;
    }
    plan->first_piece[plan->grid->n_streams] = piece;
}

static wf_status add_feed(wf_plan *plan, size_t i_recording, size_t i_thread, size_t *n_ordered,
                          wf_error *err)
{
    wfi_feed *feed = &plan->feeds[plan->n_feeds];
    const size_t begin = *n_ordered;
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        const wfi_grid_stream *stream = &plan->grid->streams[k];
        if (stream->i_recording != i_recording || stream->i_thread != i_thread ||
            !wfi_plan_uses_stream(plan, k))
            continue;
        plan->stream_order[*n_ordered] = k;
        plan->channel_order[(*n_ordered)++] = stream->channel;
        plan->feed_of_stream[k] = plan->n_feeds;
        plan->recording_stream[i_recording] = k;
    }
    if (*n_ordered == begin)
        return WF_OK;
    *feed = (wfi_feed){
        .i_recording = i_recording,
        .i_thread = i_thread,
        .streams = plan->stream_order + begin,
        .channels = plan->channel_order + begin,
        .n_streams = *n_ordered - begin,
    };
    plan->n_feeds++;
    const wf_recording_info *info = wf_recording_describe(plan->recordings[i_recording]);
    return wfi_unpacker_init(&feed->unpacker, info->threads[i_thread].format, err);
}

static wf_status collect_feeds(wf_plan *plan, wf_error *err)
{
    size_t n_ordered = 0;
    for (size_t k = 0; k < plan->grid->n_streams; k++)
        plan->feed_of_stream[k] = NONE;
    for (size_t r = 0; r < plan->n_recordings; r++) {
        plan->recording_stream[r] = NONE;
        const size_t n_threads = wf_recording_describe(plan->recordings[r])->n_threads;
        for (size_t t = 0; t < n_threads; t++)
            WFI_TRY(add_feed(plan, r, t, &n_ordered, err));
    }
    return WF_OK;
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
        if (wfi_plan_uses_stream(plan, k) && loss > plan->rotation_loss)
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

/* Fixed by the job alone, never by the number of threads: a block is a term of the sum. */
static void choose_blocks(wf_plan *plan)
{
    const size_t segment_bytes = plan->n_tiles * plan->grid->n_inputs * plan->grid->n_bands * 2 *
                                 WFI_TILE_CHANNELS * sizeof(float);
    size_t block = 1;
    while (block < BLOCK_SEGMENTS_MAX && 2 * block * segment_bytes <= BLOCK_BYTES)
        block *= 2;
    plan->block_segments = block;
    size_t chunk = SIZE_MAX;
    for (size_t r = 0; r < plan->n_recordings; r++) {
        if (plan->recording_stream[r] == NONE)
            continue;
        const size_t n_fft = plan->grid->streams[plan->recording_stream[r]].n_fft;
        const size_t bits = bits_of_sample_time(wf_recording_describe(plan->recordings[r]));
        const size_t fit = CHUNK_BYTES * 8 / (bits * n_fft);
        chunk = fit < chunk ? fit : chunk;
    }
    plan->chunk_segments = chunk > block ? chunk / block * block : block;
}

static wf_status allocate_plan(wf_plan *plan, const wf_observation *observation,
                               const wf_recording *const *recordings, wf_error *err)
{
    static const char what[] = "the plan";
    const size_t n_streams = plan->grid->n_streams;
    size_t n_threads = 0;
    for (size_t r = 0; r < observation->n_recordings; r++)
        n_threads += wf_recording_describe(recordings[r])->n_threads;
    plan->n_recordings = observation->n_recordings;
    WFI_TRY(wfi_allocate(&plan->band_first_hz, observation->n_bands, sizeof(double), what, err));
    WFI_TRY(wfi_allocate(&plan->recordings, plan->n_recordings, sizeof(*recordings), what, err));
    WFI_TRY(wfi_allocate(&plan->recording_stream, plan->n_recordings, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->feeds, n_threads, sizeof(wfi_feed), what, err));
    WFI_TRY(wfi_allocate(&plan->stream_order, n_streams, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->channel_order, n_streams, sizeof(uint32_t), what, err));
    WFI_TRY(wfi_allocate(&plan->feed_of_stream, n_streams, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->first_piece, n_streams + 1, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->rotated, n_streams, sizeof(bool), what, err));
    for (size_t r = 0; r < plan->n_recordings; r++)
        plan->recordings[r] = recordings[r];
    return WF_OK;
}

static wf_status fill_plan(wf_plan *plan, const wf_observation *observation,
                           const wf_recording *const *recordings,
                           const double *largest_rate_s_per_s, wf_error *err)
{
    WFI_TRY(wfi_grid_create(&plan->grid, observation, recordings, err));
    WFI_TRY(allocate_plan(plan, observation, recordings, err));
    fill_shape(plan, observation);
    index_products(plan, &observation->correlation);
    index_pieces(plan);
    WFI_TRY(collect_feeds(plan, err));
    decide_rotation(plan, observation, largest_rate_s_per_s);
    choose_blocks(plan);
    return wfi_transforms_create(&plan->transforms, plan->grid, plan->rotated, err);
}

wf_status wf_plan_create(wf_plan **out, const wf_observation *observation,
                         const wf_recording *const *recordings, const double *largest_rate_s_per_s,
                         wf_error *err)
{
    *out = NULL;
    wf_plan *plan = NULL;
    WFI_TRY(wfi_allocate(&plan, 1, sizeof *plan, "the plan", err));
    const wf_status status = fill_plan(plan, observation, recordings, largest_rate_s_per_s, err);
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
    wfi_transforms_destroy(plan->transforms);
    wfi_free(plan->band_first_hz);
    wfi_free(plan->recordings);
    wfi_free(plan->recording_stream);
    wfi_free(plan->feeds);
    wfi_free(plan->stream_order);
    wfi_free(plan->channel_order);
    wfi_free(plan->feed_of_stream);
    wfi_free(plan->first_piece);
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
