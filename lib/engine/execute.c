/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Executing a plan: a stretch of a slice is read in chunks, a chunk is worked through in blocks of
 * segments.
 *
 * Within a block everything stays in cache: samples are decoded a segment at a time, transformed,
 * put into phase and written into tiles, and the tiles are cross-multiplied. Stretches, groups and
 * blocks are cut by the plan and counted from the slice's begin, so that every sum has one fixed
 * order.
 */
#include <math.h>
#include <string.h>

#include "base/status.h"
#include "engine/worker.h"
#include "recording/invalid_runs.h"

static void activate_input(wf_worker *worker, size_t i_input, bool active)
{
    bool *slot_active = &worker->slot_active[worker->plan->pairs.slot_of_input[i_input]];
    if (*slot_active && !active)
        wfi_sums_clear_input(&worker->sums, worker->plan, i_input);
    *slot_active = active;
}

static void begin_slice(wf_worker *worker, const wf_slice *slice)
{
    const wf_plan *plan = worker->plan;
    for (size_t i = 0; i < plan->grid->n_inputs; i++)
        activate_input(worker, i, slice->tracks[i / plan->grid->n_polarizations] != NULL);
    for (size_t r = 0; r < plan->n_recordings; r++) {
        wfi_source *source = &worker->sources[r];
        source->active = false;
        if (source->window == NULL)
            continue;
        const wfi_grid_stream *stream = &plan->grid->streams[plan->recording_stream[r]];
        const wf_track *track = slice->tracks[stream->i_station];
        if (track == NULL)
            continue;
        source->active = true;
        wfi_aligner_init(&source->aligner, track, slice->start,
                         wf_recording_describe(plan->recordings[r])->origin, stream->rate_hz,
                         stream->n_fft);
    }
}

static wf_status read_chunk(wf_worker *worker, int64_t first_segment, int64_t n_segments,
                            wf_error *err)
{
    for (size_t r = 0; r < worker->plan->n_recordings; r++) {
        const wfi_source *source = &worker->sources[r];
        if (!source->active)
            continue;
        wfi_alignment first;
        wfi_alignment last;
        wfi_align(&source->aligner, first_segment, &first);
        wfi_align(&source->aligner, first_segment + n_segments - 1, &last);
        const bool ascending = first.first_sample < last.first_sample;
        const int64_t begin = ascending ? first.first_sample : last.first_sample;
        const int64_t end =
            (ascending ? last.first_sample : first.first_sample) + (int64_t)source->aligner.n_fft;
        WFI_TRY(wf_window_load(source->window, begin - 1, end - begin + 2, err));
    }
    return WF_OK;
}

static const wf_packed *packed_of(const wf_worker *worker, const wfi_feed *feed)
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
    const wf_packed *packed = packed_of(worker, feed);
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

/* Where the channels of a piece of a bundle's streams go; returns the first stream's. */
static const wfi_grid_piece *address_tiles(wf_worker *worker, const wfi_bundle *bundle,
                                           size_t i_piece, size_t i_segment)
{
    const wf_plan *plan = worker->plan;
    const size_t *first_piece = plan->bundles.first_piece;
    const wfi_grid_piece *pieces = plan->grid->pieces + i_piece;
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const wfi_grid_piece *piece = &pieces[first_piece[bundle->streams[i]]];
        worker->spectra.tiles[i] =
            wfi_sums_tiles(&worker->sums, plan, piece->i_band, piece->i_input, i_segment);
    }
    return &pieces[first_piece[bundle->streams[0]]];
}

static void channelize_segment(wf_worker *worker, size_t i_bundle, const wfi_alignment *alignment,
                               size_t i_segment, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const size_t k = bundle->streams[i];
        decode(worker, k, alignment, i_segment, partial);
        wfi_channelize_transform(&plan->channelizers[i_bundle], &plan->grid->streams[k], alignment,
                                 i, &worker->spectra);
    }
    for (size_t p = 0; p < bundle->n_pieces; p++) {
        const wfi_grid_piece *piece = address_tiles(worker, bundle, p, i_segment);
        wfi_channelize_place(&plan->channelizers[i_bundle],
                             &plan->grid->streams[bundle->streams[0]], piece, alignment,
                             plan->band_first_hz[piece->i_band], bundle->n_streams,
                             wfi_sums_tile_stride(plan), &worker->spectra);
    }
}

static void channelize_batch(wf_worker *worker, size_t i_bundle, const wfi_alignment *alignments,
                             size_t i_segment, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    const wfi_channelizer *channelizer = &plan->channelizers[i_bundle];
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const size_t k = bundle->streams[i];
        const wfi_feed *feed = &plan->feeds[plan->feed_of_stream[k]];
        const wf_packed *packed = packed_of(worker, feed);
        partial->power[k] +=
            wfi_channelize_batch_transform(channelizer, &plan->grid->streams[k], &feed->unpacker,
                                           packed, alignments, i, &worker->spectra);
        partial->valid_samples[k] +=
            (double)(plan->grid->streams[k].n_fft * plan->kernels->batch_segments);
    }
    for (size_t p = 0; p < bundle->n_pieces; p++) {
        const wfi_grid_piece *piece = address_tiles(worker, bundle, p, i_segment);
        wfi_channelize_batch_place(channelizer, &plan->grid->streams[bundle->streams[0]], piece,
                                   alignments, plan->band_first_hz[piece->i_band],
                                   bundle->n_streams, wfi_sums_tile_stride(plan), &worker->spectra);
    }
}

static bool batch_is_valid(const wf_worker *worker, const wfi_bundle *bundle, size_t first)
{
    const wf_plan *plan = worker->plan;
    for (size_t i = 0; i < bundle->n_streams; i++) {
        const wfi_validity *validity = &worker->validity[plan->feed_of_stream[bundle->streams[i]]];
        for (size_t s = first; !validity->whole && s < first + plan->kernels->batch_segments; s++) {
            if (validity->fraction[s] < 1.0)
                return false;
        }
    }
    return true;
}

static void channelize_bundle(wf_worker *worker, size_t i_bundle, size_t n_segments,
                              wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wfi_bundle *bundle = &plan->bundles.bundles[i_bundle];
    const wfi_alignment *alignments = worker->sources[bundle->i_recording].alignments;
    const size_t n_batch = plan->kernels->batch_segments;
    for (size_t s = 0; s < n_segments;) {
        if (plan->channelizers[i_bundle].batches && s + n_batch <= n_segments &&
            batch_is_valid(worker, bundle, s)) {
            channelize_batch(worker, i_bundle, alignments + s, s, partial);
            s += n_batch;
        } else {
            channelize_segment(worker, i_bundle, alignments + s, s, partial);
            s++;
        }
    }
}

static wf_status count_valid(wf_worker *worker, size_t n_segments, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    for (size_t f = 0; f < plan->n_feeds; f++) {
        const wfi_feed *feed = &plan->feeds[f];
        const wfi_source *source = &worker->sources[feed->i_recording];
        if (!source->active)
            continue;
        const wf_packed *packed = packed_of(worker, feed);
        wfi_validity_reset(&worker->validity[f]);
        for (size_t s = 0; s < n_segments; s++)
            WFI_TRY(wfi_validity_append(&worker->validity[f], packed,
                                        source->alignments[s].first_sample, source->aligner.n_fft,
                                        err));
    }
    return WF_OK;
}

static void align_block(wf_worker *worker, int64_t first_segment, size_t n_segments)
{
    for (size_t r = 0; r < worker->plan->n_recordings; r++) {
        wfi_source *source = &worker->sources[r];
        for (size_t s = 0; source->active && s < n_segments; s++)
            wfi_align(&source->aligner, first_segment + (int64_t)s, &source->alignments[s]);
    }
}

/* Validity of the stream that fills a span for an input; NULL where nothing was recorded. */
static const wfi_validity *validity_of(const wf_worker *worker, size_t i_span, size_t i_input)
{
    const wf_plan *plan = worker->plan;
    const int i_stream = plan->grid->span_stream[i_span * plan->grid->n_inputs + i_input];
    if (i_stream < 0)
        return NULL;
    const size_t i_feed = plan->feed_of_stream[i_stream];
    return worker->sources[plan->feeds[i_feed].i_recording].active ? &worker->validity[i_feed]
                                                                   : NULL;
}

static void count_common(const wf_worker *worker, size_t i, size_t j, size_t p, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const size_t n_spans = plan->shape.n_spans;
    const size_t n_polarizations = plan->grid->n_polarizations;
    const size_t i_product =
        wfi_baseline_index(plan->shape.n_stations, i, j) * plan->shape.n_products + p;
    for (size_t s = 0; s < n_spans; s++) {
        const wfi_validity *first =
            validity_of(worker, s, i * n_polarizations + (size_t)plan->product_input[p][0]);
        const wfi_validity *second =
            validity_of(worker, s, j * n_polarizations + (size_t)plan->product_input[p][1]);
        if (first != NULL && second != NULL)
            partial->common_valid[i_product * n_spans + s] += wfi_validity_common(first, second);
    }
}

static void count_block(const wf_worker *worker, const wf_slice *slice, wf_partial *partial)
{
    const wf_shape *shape = &worker->plan->shape;
    for (size_t i = 0; i < shape->n_stations; i++) {
        for (size_t j = i; j < shape->n_stations; j++) {
            if (slice->tracks[i] == NULL || slice->tracks[j] == NULL)
                continue;
            for (size_t p = 0; p < shape->n_products; p++)
                count_common(worker, i, j, p, partial);
        }
    }
}

static wf_status execute_block(wf_worker *worker, const wf_slice *slice, int64_t first_segment,
                               size_t n_segments, wf_partial *partial, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    align_block(worker, first_segment, n_segments);
    WFI_TRY(count_valid(worker, n_segments, err));
    for (size_t b = 0; b < plan->bundles.n_bundles; b++) {
        if (worker->sources[plan->bundles.bundles[b].i_recording].active)
            channelize_bundle(worker, b, n_segments, partial);
    }
    wfi_sums_cross(&worker->sums, plan, worker->slot_active, n_segments);
    count_block(worker, slice, partial);
    return WF_OK;
}

static int64_t at_most(int64_t value, size_t limit)
{
    return value < (int64_t)limit ? value : (int64_t)limit;
}

/* Segments [first, end) of a slice, first and end being whole blocks from the stretch's begin. */
static wf_status execute_chunk(wf_worker *worker, const wf_slice *slice, int64_t stretch,
                               int64_t first, int64_t end, wf_partial *out, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    WFI_TRY(read_chunk(worker, first, end - first, err));
    for (int64_t block = first; block < end; block += (int64_t)plan->block_segments) {
        const int64_t n_block = at_most(end - block, plan->block_segments);
        WFI_TRY(execute_block(worker, slice, block, (size_t)n_block, out, err));
        if ((block + n_block - stretch) % (int64_t)plan->group_segments == 0)
            wfi_sums_fold(&worker->sums, plan, out);
    }
    return WF_OK;
}

int64_t wf_plan_n_stretches(const wf_plan *plan, int64_t n_segments)
{
    const int64_t per_stretch = (int64_t)plan->stretch_segments;
    return (n_segments + per_stretch - 1) / per_stretch;
}

wf_status wf_plan_execute(const wf_plan *plan, wf_worker *worker, const wf_slice *slice,
                          int64_t i_stretch, wf_partial *out, wf_error *err)
{
    const int64_t begin = i_stretch * (int64_t)plan->stretch_segments;
    const int64_t end = begin + at_most(slice->n_segments - begin, plan->stretch_segments);
    wf_partial_clear(out, plan);
    begin_slice(worker, slice);
    wf_status status = WF_OK;
    for (int64_t first = begin; first < end && status == WF_OK;) {
        const int64_t last = first + at_most(end - first, plan->chunk_segments);
        status = execute_chunk(worker, slice, begin, first, last, out, err);
        first = last;
    }
    wfi_sums_fold(&worker->sums, plan, out);
    return status;
}

wf_status wf_plan_execute_slice(const wf_plan *plan, wf_worker *worker, const wf_slice *slice,
                                wf_partial *part, wf_partial *total, wf_error *err)
{
    const int64_t n_stretches = wf_plan_n_stretches(plan, slice->n_segments);
    wf_partial_clear(total, plan);
    for (int64_t i = 0; i < n_stretches; i++) {
        WFI_TRY(wf_plan_execute(plan, worker, slice, i, part, err));
        wf_partial_add(total, plan, part);
    }
    return WF_OK;
}
