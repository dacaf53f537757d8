/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Executing a plan: a stretch of a slice is read in chunks, a chunk is worked through in blocks of
 * segments.
 *
 * Within a block everything stays in cache: samples are decoded a segment at a time, transformed,
 * put into phase and written into tiles, and the tiles are cross-multiplied. Stretches, groups and
 * blocks are cut by the plan and counted from the slice's begin, so that every sum has one fixed
 * order.
 */
#include <string.h>

#include "base/status.h"
#include "engine/segments.h"
#include "engine/worker.h"

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
    wfi_sums_begin(&worker->sums, plan, worker->slot_active);
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

static wf_status count_valid(wf_worker *worker, size_t n_segments, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    for (size_t f = 0; f < plan->n_feeds; f++) {
        const wfi_feed *feed = &plan->feeds[f];
        const wfi_source *source = &worker->sources[feed->i_recording];
        if (!source->active)
            continue;
        const wf_packed *packed = wfi_segments_packed(worker, feed);
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
            wfi_segments_channelize(worker, b, n_segments, partial);
    }
    wfi_sums_cross(&worker->sums, plan, n_segments);
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
