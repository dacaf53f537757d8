/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Executing a plan: a slice is read in chunks, a chunk is worked through in blocks of segments.
 *
 * Within a block everything stays in cache: samples are decoded a segment at a time, transformed,
 * put into phase and written into tiles, and the tiles are cross-multiplied. Blocks and chunks are
 * cut by the plan and begin with the slice, so that every sum has one fixed order.
 */
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "engine/cross.h"
#include "engine/plan.h"
#include "engine/validity.h"

struct wf_worker {
    const wf_plan *plan;
    wf_window **windows;    /* [n_recordings] NULL: not used */
    wfi_aligner *aligners;  /* [n_recordings] */
    bool *active;           /* [n_recordings] takes part in the slice */
    wfi_validity *validity; /* [n_feeds] */
    float **planes;         /* [largest number of streams of a feed] */
    size_t n_planes;
    wfi_spectrum spectrum;
    float *tiles; /* [n_bands][n_tiles][n_inputs][block_segments][2][16] */
};

static size_t input_stride(const wf_plan *plan)
{
    return plan->block_segments * 2 * WFI_TILE_CHANNELS;
}

static size_t tile_stride(const wf_plan *plan)
{
    return plan->grid->n_inputs * input_stride(plan);
}

static float *tiles_of(const wf_worker *worker, size_t i_band, size_t i_input)
{
    const wf_plan *plan = worker->plan;
    return worker->tiles + i_band * plan->n_tiles * tile_stride(plan) +
           i_input * input_stride(plan);
}

wf_status wf_partial_create(wf_partial **out, const wf_plan *plan, wf_error *err)
{
    *out = NULL;
    wf_partial *partial = NULL;
    const wf_shape *shape = &plan->shape;
    const size_t n_products = shape->n_baselines * shape->n_products;
    WFI_TRY(wfi_allocate(&partial, 1, sizeof *partial, "sums", err));
    wf_status status =
        wfi_allocate(&partial->cross, n_products * shape->n_bands * shape->n_channels,
                     sizeof *partial->cross, "visibilities", err);
    if (status == WF_OK)
        status = wfi_allocate(&partial->common_valid, n_products * shape->n_spans, sizeof(double),
                              "weights", err);
    if (status == WF_OK)
        status = wfi_allocate(&partial->power, shape->n_streams, sizeof(double), "powers", err);
    if (status == WF_OK)
        status = wfi_allocate(&partial->valid_samples, shape->n_streams, sizeof(double),
                              "sample counts", err);
    if (status == WF_OK)
        *out = partial;
    else
        wf_partial_destroy(partial);
    return status;
}

void wf_partial_destroy(wf_partial *partial)
{
    if (partial == NULL)
        return;
    wfi_free(partial->cross);
    wfi_free(partial->common_valid);
    wfi_free(partial->power);
    wfi_free(partial->valid_samples);
    wfi_free(partial);
}

static void partial_clear(wf_partial *partial, const wf_shape *shape)
{
    const size_t n_products = shape->n_baselines * shape->n_products;
    memset(partial->cross, 0,
           n_products * shape->n_bands * shape->n_channels * sizeof *partial->cross);
    memset(partial->common_valid, 0, n_products * shape->n_spans * sizeof(double));
    memset(partial->power, 0, shape->n_streams * sizeof(double));
    memset(partial->valid_samples, 0, shape->n_streams * sizeof(double));
}

/* Samples that a chunk needs: the alignment may drift by the delay's rate within it. */
static int64_t window_capacity(const wf_plan *plan, size_t n_fft)
{
    const double n = (double)plan->chunk_segments * (double)n_fft;
    return (int64_t)(n + ceil(n * plan->largest_rate_s_per_s)) + 8;
}

static wf_status create_windows(wf_worker *worker, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    const size_t n = plan->n_recordings;
    WFI_TRY(wfi_allocate(&worker->windows, n, sizeof *worker->windows, "windows", err));
    WFI_TRY(wfi_allocate(&worker->aligners, n, sizeof *worker->aligners, "windows", err));
    WFI_TRY(wfi_allocate(&worker->active, n, sizeof *worker->active, "windows", err));
    for (size_t r = 0; r < n; r++) {
        if (plan->recording_stream[r] == SIZE_MAX)
            continue;
        const size_t n_fft = plan->grid->streams[plan->recording_stream[r]].n_fft;
        WFI_TRY(wf_window_create(&worker->windows[r], plan->recordings[r],
                                 window_capacity(plan, n_fft), err));
    }
    return WF_OK;
}

static wf_status create_feed_buffers(wf_worker *worker, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    size_t longest = 0;
    WFI_TRY(wfi_allocate(&worker->validity, plan->n_feeds, sizeof(wfi_validity), "validity", err));
    for (size_t f = 0; f < plan->n_feeds; f++) {
        const wfi_feed *feed = &plan->feeds[f];
        const size_t n_fft = plan->grid->streams[feed->streams[0]].n_fft;
        WFI_TRY(wfi_validity_create(&worker->validity[f], plan->block_segments, err));
        worker->n_planes = feed->n_streams > worker->n_planes ? feed->n_streams : worker->n_planes;
        longest = n_fft > longest ? n_fft : longest;
    }
    WFI_TRY(wfi_allocate(&worker->planes, worker->n_planes, sizeof(float *), "samples", err));
    for (size_t i = 0; i < worker->n_planes; i++)
        WFI_TRY(wfi_allocate(&worker->planes[i], 2 * longest, sizeof(float), "samples", err));
    return WF_OK;
}

wf_status wf_worker_create(wf_worker **out, const wf_plan *plan, wf_error *err)
{
    *out = NULL;
    wf_worker *worker = NULL;
    WFI_TRY(wfi_allocate(&worker, 1, sizeof *worker, "a worker", err));
    worker->plan = plan;
    wf_status status = create_windows(worker, err);
    if (status == WF_OK)
        status = create_feed_buffers(worker, err);
    if (status == WF_OK)
        status = wfi_spectrum_create(&worker->spectrum, plan->grid, err);
    if (status == WF_OK)
        status =
            wfi_allocate(&worker->tiles, plan->grid->n_bands * plan->n_tiles * tile_stride(plan),
                         sizeof(float), "tiles", err);
    if (status == WF_OK)
        *out = worker;
    else
        wf_worker_destroy(worker);
    return status;
}

void wf_worker_destroy(wf_worker *worker)
{
    if (worker == NULL)
        return;
    for (size_t r = 0; worker->windows != NULL && r < worker->plan->n_recordings; r++)
        wf_window_destroy(worker->windows[r]);
    for (size_t f = 0; worker->validity != NULL && f < worker->plan->n_feeds; f++)
        wfi_validity_destroy(&worker->validity[f]);
    for (size_t i = 0; worker->planes != NULL && i < worker->n_planes; i++)
        wfi_free(worker->planes[i]);
    wfi_free(worker->windows);
    wfi_free(worker->aligners);
    wfi_free(worker->active);
    wfi_free(worker->validity);
    wfi_free(worker->planes);
    wfi_free(worker->tiles);
    wfi_spectrum_destroy(&worker->spectrum);
    wfi_free(worker);
}

static void begin_slice(wf_worker *worker, const wf_slice *slice)
{
    const wf_plan *plan = worker->plan;
    for (size_t r = 0; r < plan->n_recordings; r++) {
        worker->active[r] = false;
        if (plan->recording_stream[r] == SIZE_MAX)
            continue;
        const wfi_grid_stream *stream = &plan->grid->streams[plan->recording_stream[r]];
        const wf_track *track = slice->tracks[stream->i_station];
        if (track == NULL)
            continue;
        worker->active[r] = true;
        wfi_aligner_init(&worker->aligners[r], track, slice->start,
                         wf_recording_describe(plan->recordings[r])->origin, stream->rate_hz,
                         stream->n_fft);
    }
}

static wf_status read_chunk(wf_worker *worker, int64_t first_segment, int64_t n_segments,
                            wf_error *err)
{
    const wf_plan *plan = worker->plan;
    for (size_t r = 0; r < plan->n_recordings; r++) {
        if (!worker->active[r])
            continue;
        wfi_alignment first;
        wfi_alignment last;
        wfi_align(&worker->aligners[r], first_segment, &first);
        wfi_align(&worker->aligners[r], first_segment + n_segments - 1, &last);
        const int64_t begin =
            first.first_sample < last.first_sample ? first.first_sample : last.first_sample;
        const int64_t end =
            (first.first_sample > last.first_sample ? first.first_sample : last.first_sample) +
            (int64_t)worker->aligners[r].n_fft;
        WFI_TRY(wf_window_load(worker->windows[r], begin - 1, end - begin + 2, err));
    }
    return WF_OK;
}

static void zero_invalid(const wf_packed *packed, int64_t first, size_t n, size_t group,
                         float *plane)
{
    const int64_t end = first + (int64_t)n;
    for (size_t i = wfi_validity_first_run(packed, first);
         i < packed->n_invalid && packed->invalid[i].first < end; i++) {
        const wf_sample_range run = packed->invalid[i];
        const int64_t begin = run.first > first ? run.first : first;
        const int64_t stop = run.first + run.n < end ? run.first + run.n : end;
        memset(plane + (size_t)(begin - first) * group, 0,
               (size_t)(stop - begin) * group * sizeof *plane);
    }
}

/* Sum of squares of at most a few thousand numbers: sixteen float lanes, added up in order. */
static double sum_of_squares_run(const float *plane, size_t n)
{
    enum { LANES = 16 };
    float lane[LANES] = {0};
    double sum = 0;
    size_t i = 0;
    for (; i + LANES <= n; i += LANES) {
        for (size_t k = 0; k < LANES; k++)
            lane[k] += plane[i + k] * plane[i + k];
    }
    for (; i < n; i++)
        sum += (double)plane[i] * (double)plane[i];
    for (size_t k = 0; k < LANES; k++)
        sum += (double)lane[k];
    return sum;
}

static double sum_of_squares(const float *plane, size_t n)
{
    enum { RUN = 2048 };
    double sum = 0;
    for (size_t i = 0; i < n; i += RUN)
        sum += sum_of_squares_run(plane + i, n - i < RUN ? n - i : RUN);
    return sum;
}

static void place_stream(wf_worker *worker, size_t i_stream, const wfi_alignment *alignment,
                         size_t i_segment)
{
    const wf_plan *plan = worker->plan;
    const wfi_grid_stream *stream = &plan->grid->streams[i_stream];
    for (size_t p = plan->first_piece[i_stream]; p < plan->first_piece[i_stream + 1]; p++) {
        const wfi_grid_piece *piece = &plan->grid->pieces[p];
        double first_turns = 0;
        double step_turns = 0;
        wfi_align_channels(stream, piece, alignment, plan->band_first_hz[piece->i_band],
                           plan->rotated[i_stream], &first_turns, &step_turns);
        float *tiles =
            tiles_of(worker, piece->i_band, piece->i_input) + i_segment * 2 * WFI_TILE_CHANNELS;
        wfi_place_channels(stream, piece, plan->rotated[i_stream], &worker->spectrum, first_turns,
                           step_turns, tiles, tile_stride(plan));
    }
}

/* One segment of one thread: decode, transform, place. */
static wf_status channelize_segment(wf_worker *worker, size_t i_feed, int64_t segment,
                                    size_t i_segment, wf_partial *partial, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    const wfi_feed *feed = &plan->feeds[i_feed];
    const wfi_aligner *aligner = &worker->aligners[feed->i_recording];
    const wf_packed *packed = wf_window_thread(worker->windows[feed->i_recording], feed->i_thread);
    const size_t n_fft = aligner->n_fft;
    const size_t group = feed->unpacker.format.is_complex ? 2 : 1;
    wfi_validity *validity = &worker->validity[i_feed];
    wfi_alignment alignment;
    wfi_align(aligner, segment, &alignment);
    WFI_TRY(wfi_validity_append(validity, packed, alignment.first_sample, n_fft, err));
    const double fraction = validity->fraction[validity->n_segments - 1];
    wfi_unpack(&feed->unpacker, packed, alignment.first_sample, n_fft, feed->channels,
               feed->n_streams, worker->planes);
    for (size_t i = 0; i < feed->n_streams; i++) {
        const size_t k = feed->streams[i];
        if (fraction < 1.0)
            zero_invalid(packed, alignment.first_sample, n_fft, group, worker->planes[i]);
        partial->power[k] += sum_of_squares(worker->planes[i], n_fft * group);
        partial->valid_samples[k] += rint(fraction * (double)n_fft);
        wfi_transform(plan->transforms, k, &plan->grid->streams[k], &alignment, worker->planes[i],
                      &worker->spectrum);
        place_stream(worker, k, &alignment, i_segment);
    }
    return WF_OK;
}

static wf_status channelize_block(wf_worker *worker, int64_t first_segment, size_t n_segments,
                                  wf_partial *partial, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    for (size_t f = 0; f < plan->n_feeds; f++) {
        if (!worker->active[plan->feeds[f].i_recording])
            continue;
        wfi_validity_reset(&worker->validity[f]);
        for (size_t s = 0; s < n_segments; s++)
            WFI_TRY(channelize_segment(worker, f, first_segment + (int64_t)s, s, partial, err));
    }
    return WF_OK;
}

/* Validity of the stream that fills a span for an input; NULL where nothing was recorded. */
static const wfi_validity *validity_of(const wf_worker *worker, size_t i_span, size_t i_input)
{
    const wf_plan *plan = worker->plan;
    const int i_stream = plan->grid->span_stream[i_span * plan->grid->n_inputs + i_input];
    if (i_stream < 0)
        return NULL;
    const size_t i_feed = plan->feed_of_stream[i_stream];
    return worker->active[plan->feeds[i_feed].i_recording] ? &worker->validity[i_feed] : NULL;
}

typedef struct product_inputs {
    size_t i_product; /* baseline * n_products + product */
    size_t first;
    size_t second;
} product_inputs;

static product_inputs inputs_of(const wf_plan *plan, size_t i, size_t j, size_t p)
{
    const size_t n_polarizations = plan->grid->n_polarizations;
    const size_t i_baseline = wfi_baseline_index(plan->shape.n_stations, i, j);
    return (product_inputs){i_baseline * plan->shape.n_products + p,
                            i * n_polarizations + (size_t)plan->product_input[p][0],
                            j * n_polarizations + (size_t)plan->product_input[p][1]};
}

static void count_common(const wf_worker *worker, product_inputs inputs, wf_partial *partial)
{
    const size_t n_spans = worker->plan->shape.n_spans;
    for (size_t s = 0; s < n_spans; s++) {
        const wfi_validity *first = validity_of(worker, s, inputs.first);
        const wfi_validity *second = validity_of(worker, s, inputs.second);
        if (first != NULL && second != NULL)
            partial->common_valid[inputs.i_product * n_spans + s] +=
                wfi_validity_common(first, second);
    }
}

static void cross_product(const wf_worker *worker, product_inputs inputs, size_t i_band,
                          size_t i_tile, size_t n_segments, wf_partial *partial)
{
    const wf_plan *plan = worker->plan;
    const wf_shape *shape = &plan->shape;
    const size_t first_channel = i_tile * WFI_TILE_CHANNELS;
    const size_t left = shape->n_channels - first_channel;
    const size_t n = left < WFI_TILE_CHANNELS ? left : WFI_TILE_CHANNELS;
    const float *a = tiles_of(worker, i_band, inputs.first) + i_tile * tile_stride(plan);
    const float *b = tiles_of(worker, i_band, inputs.second) + i_tile * tile_stride(plan);
    double complex *out = partial->cross +
                          (inputs.i_product * shape->n_bands + i_band) * shape->n_channels +
                          first_channel;
    wfi_cross_accumulate(a, b, n_segments, out, n);
}

static bool station_is_active(const wf_slice *slice, size_t i_station)
{
    return slice->tracks[i_station] != NULL;
}

static void cross_tile(const wf_worker *worker, const wf_slice *slice, size_t i_band, size_t i_tile,
                       size_t n_segments, wf_partial *partial)
{
    const wf_shape *shape = &worker->plan->shape;
    for (size_t i = 0; i < shape->n_stations; i++) {
        for (size_t j = i; j < shape->n_stations; j++) {
            if (!station_is_active(slice, i) || !station_is_active(slice, j))
                continue;
            for (size_t p = 0; p < shape->n_products; p++)
                cross_product(worker, inputs_of(worker->plan, i, j, p), i_band, i_tile, n_segments,
                              partial);
        }
    }
}

static void count_block(const wf_worker *worker, const wf_slice *slice, wf_partial *partial)
{
    const wf_shape *shape = &worker->plan->shape;
    for (size_t i = 0; i < shape->n_stations; i++) {
        for (size_t j = i; j < shape->n_stations; j++) {
            if (!station_is_active(slice, i) || !station_is_active(slice, j))
                continue;
            for (size_t p = 0; p < shape->n_products; p++)
                count_common(worker, inputs_of(worker->plan, i, j, p), partial);
        }
    }
}

static wf_status execute_block(wf_worker *worker, const wf_slice *slice, int64_t first_segment,
                               size_t n_segments, wf_partial *partial, wf_error *err)
{
    WFI_TRY(channelize_block(worker, first_segment, n_segments, partial, err));
    for (size_t b = 0; b < worker->plan->shape.n_bands; b++) {
        for (size_t t = 0; t < worker->plan->n_tiles; t++)
            cross_tile(worker, slice, b, t, n_segments, partial);
    }
    count_block(worker, slice, partial);
    return WF_OK;
}

static int64_t at_most(int64_t value, size_t limit)
{
    return value < (int64_t)limit ? value : (int64_t)limit;
}

wf_status wf_plan_execute(const wf_plan *plan, wf_worker *worker, const wf_slice *slice,
                          wf_partial *out, wf_error *err)
{
    partial_clear(out, &plan->shape);
    begin_slice(worker, slice);
    for (int64_t chunk = 0; chunk < slice->n_segments; chunk += (int64_t)plan->chunk_segments) {
        const int64_t n_chunk = at_most(slice->n_segments - chunk, plan->chunk_segments);
        WFI_TRY(read_chunk(worker, chunk, n_chunk, err));
        for (int64_t block = 0; block < n_chunk; block += (int64_t)plan->block_segments) {
            const int64_t n_block = at_most(n_chunk - block, plan->block_segments);
            WFI_TRY(execute_block(worker, slice, chunk + block, (size_t)n_block, out, err));
        }
    }
    return WF_OK;
}
