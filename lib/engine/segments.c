/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the packed samples of a block to its tiles. */
#include "engine/segments.h"

#include <math.h>
#include <string.h>

#include "engine/channelize_batch.h"
#include "recording/invalid_runs.h"

const wf_packed *wfi_segments_packed(const wf_worker *worker, const wfi_feed *feed)
{
    return wf_window_thread_without(worker->sources[feed->i_recording].window, feed->i_thread,
                                    feed->i_exclusion);
}

static void zero_invalid(const wf_packed *packed, int64_t first, size_t n, size_t group,
                         float *plane)
{
    const int64_t end = first + (int64_t)n;
    for (size_t i = wfi_invalid_run_after(packed, first);
         i < packed->n_invalid && packed->invalid[i].first < end; i++) {
        const wf_sample_range run = packed->invalid[i];
        const int64_t begin = run.first > first ? run.first : first;
        const int64_t stop = run.first + run.n < end ? run.first + run.n : end;
        memset(plane + (size_t)(begin - first) * group, 0,
               (size_t)(stop - begin) * group * sizeof *plane);
    }
}

/* Decode a segment of one stream into the spectra's samples. */
static void decode(wf_worker *worker, size_t i_stream, const wfi_alignment *alignment,
                   size_t i_segment, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_grid_stream *stream = &plan->grid->streams[i_stream];
    const size_t i_feed = plan->feed_of_stream[i_stream];
    const wfi_feed *feed = &plan->feeds[i_feed];
    const wf_packed *packed = wfi_segments_packed(worker, feed);
    const size_t n = stream->n_fft * feed->unpacker.group;
    const double fraction = worker->validity[i_feed].fraction[i_segment];
    float *samples = worker->spectra.samples;
    double power = plan->kernels->unpack(&feed->unpacker, packed->bytes,
                                         (uint64_t)(alignment->first_sample - packed->first),
                                         stream->channel, n, samples);
    if (fraction < 1.0) {
        zero_invalid(packed, alignment->first_sample, stream->n_fft, feed->unpacker.group, samples);
        power = wfi_sum_of_squares(samples, n);
    }
    partial->power[i_stream] += power;
    partial->valid_samples[i_stream] += rint(fraction * (double)stream->n_fft);
}

/* Where the channels of a piece of a bundle's streams go, `offset` floats behind the first tiles of
 * this segment; returns the first stream's piece. */
static const wfi_grid_piece *address_tiles(wf_worker *worker, const wfi_bundle *bundle,
                                           size_t i_piece, size_t i_segment, size_t offset)
{
    const wf_plan *plan = worker->plan;
    const size_t *first_piece = plan->bundles.first_piece;
    const wfi_grid_piece *pieces = plan->grid->pieces + i_piece;
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const wfi_grid_piece *piece = &pieces[first_piece[bundle->streams[i]]];
        worker->spectra.tiles[i] =
            wfi_sums_tiles(&worker->sums, plan, piece->i_band, piece->i_input, i_segment) + offset;
    }
    return &pieces[first_piece[bundle->streams[0]]];
}

/* Where tiles are by channel, a segment's are put into those of 16 channels, to be turned. */
static void channelize_segment(wf_worker *worker, size_t i_bundle, const wfi_alignment *alignment,
                               size_t i_segment, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    const size_t row = wfi_sums_row_stride(plan);
    const size_t stride = plan->by_channel ? WFI_TILE_CHANNELS * row : row;
    const size_t offset = plan->by_channel ? i_segment % WFI_TILE_SEGMENTS * row : 0;
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const size_t k = bundle->streams[i];
        decode(worker, k, alignment, i_segment, partial);
        wfi_channelize_transform(&plan->channelizers[i_bundle], &plan->grid->streams[k], alignment,
                                 i, &worker->spectra);
    }
    for (size_t p = 0; p < bundle->n_pieces; p++) {
        const wfi_grid_piece *piece = address_tiles(worker, bundle, p, i_segment, offset);
        wfi_channelize_place(&plan->channelizers[i_bundle],
                             &plan->grid->streams[bundle->streams[0]], piece, alignment,
                             plan->band_first_hz[piece->i_band], bundle->n_streams, stride,
                             &worker->spectra);
    }
}

/* Tiles of 16 channels and a segment each, n of them, become tiles of a channel each. */
static void turn_tiles(const wf_plan *plan, size_t n, float *tiles)
{
    const size_t row = wfi_sums_row_stride(plan);
    for (size_t s = n; s < WFI_TILE_SEGMENTS; s++)
        memset(tiles + s * row, 0, WFI_TILE_FLOATS * sizeof(float));
    plan->kernels->batch->turn(tiles, row);
}

static void turn_bundle(wf_worker *worker, const wfi_bundle *bundle, size_t first, size_t n)
{
    const wf_plan *plan = worker->plan;
    const size_t row = wfi_sums_row_stride(plan);
    for (size_t p = 0; p < bundle->n_pieces; p++) {
        const wfi_grid_piece *piece = address_tiles(worker, bundle, p, first, 0);
        const size_t end = piece->first_channel + piece->n_channels;
        for (size_t i = 0; i < bundle->n_streams; i++) {
            for (size_t c = piece->first_channel; c < end; c += WFI_TILE_CHANNELS)
                turn_tiles(plan, n, worker->spectra.tiles[i] + c * row);
        }
    }
}

static void channelize_one_by_one(wf_worker *worker, size_t i_bundle, size_t first, size_t n,
                                  wf_partial *partial)
{
    const wfi_bundle *bundle = &worker->plan->bundles.bundles[i_bundle];
    const wfi_alignment *alignments = worker->sources[bundle->i_recording].alignments;
    for (size_t s = first; s < first + n; s++)
        channelize_segment(worker, i_bundle, &alignments[s], s, partial);
    if (worker->plan->by_channel)
        turn_bundle(worker, bundle, first, n);
}

/* Streams first_stream to first_stream + n_streams - 1 of a bundle. */
static void channelize_streams(wf_worker *worker, size_t i_bundle, size_t first_stream,
                               size_t n_streams, size_t first, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    const wfi_channelizer *channelizer = &plan->channelizers[i_bundle];
    const wfi_alignment *alignments = worker->sources[bundle->i_recording].alignments + first;
    for (size_t i = 0; i < n_streams; i++) {
        const size_t k = bundle->streams[first_stream + i];
        const wfi_feed *feed = &plan->feeds[plan->feed_of_stream[k]];
        partial->power[k] +=
            wfi_batch_transform(channelizer, &feed->unpacker, wfi_segments_packed(worker, feed),
                                alignments, i, &worker->spectra.batch);
        partial->valid_samples[k] += (double)(plan->grid->streams[k].n_fft * WFI_BATCH_SEGMENTS);
    }
    for (size_t p = 0; p < bundle->n_pieces; p++) {
        const wfi_grid_piece *piece = address_tiles(worker, bundle, p, first, 0);
        wfi_batch_place(channelizer, &plan->grid->streams[bundle->streams[0]], piece, p > 0,
                        alignments, plan->band_first_hz[piece->i_band], n_streams,
                        wfi_sums_row_stride(plan), worker->spectra.tiles + first_stream,
                        &worker->spectra.batch);
    }
}

static void channelize_batch(wf_worker *worker, size_t i_bundle, size_t first, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    const wfi_channelizer *channelizer = &plan->channelizers[i_bundle];
    const size_t k = bundle->streams[0];
    const size_t at_once = wfi_batch_streams_at_once(channelizer);
    wfi_batch_begin(
        channelizer, &plan->grid->streams[k], &plan->feeds[plan->feed_of_stream[k]].unpacker,
        worker->sources[bundle->i_recording].alignments + first, &worker->spectra.batch);
    for (size_t i = 0; i < bundle->n_streams; i += at_once) {
        const size_t left = bundle->n_streams - i;
        channelize_streams(worker, i_bundle, i, left < at_once ? left : at_once, first, partial);
    }
}

static bool all_are_valid(const wf_worker *worker, const wfi_bundle *bundle, size_t first)
{
    const wf_plan *plan = worker->plan;
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const wfi_validity *validity = &worker->validity[plan->feed_of_stream[bundle->streams[i]]];
        for (size_t s = first; !validity->whole && s < first + WFI_TILE_SEGMENTS; s++) {
            if (validity->fraction[s] < 1.0)
                return false;
        }
    }
    return true;
}

static bool go_in_a_batch(const wf_worker *worker, size_t i_bundle, size_t first, size_t n)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    return plan->channelizers[i_bundle].batches && n == WFI_TILE_SEGMENTS &&
           all_are_valid(worker, bundle, first) &&
           wfi_batch_agrees(&plan->channelizers[i_bundle], &plan->grid->streams[bundle->streams[0]],
                            worker->sources[bundle->i_recording].alignments + first);
}

void wfi_segments_channelize(wf_worker *worker, size_t i_bundle, size_t n_segments,
                             wf_partial *partial)
{
    for (size_t s = 0; s < n_segments; s += WFI_TILE_SEGMENTS) {
        const size_t left = n_segments - s;
        const size_t n = left < WFI_TILE_SEGMENTS ? left : WFI_TILE_SEGMENTS;
        if (go_in_a_batch(worker, i_bundle, s, n))
            channelize_batch(worker, i_bundle, s, partial);
        else
            channelize_one_by_one(worker, i_bundle, s, n, partial);
    }
}
