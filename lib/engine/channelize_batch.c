/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the samples of a batch of segments to the channels of the grid. */
#include "engine/channelize_batch.h"

#include <math.h>

bool wfi_batch_decodes(wf_sample_format format)
{
    return format.encoding == WF_ENCODING_OFFSET_BINARY && format.bits == 2 && !format.is_complex &&
           format.n_channels == 1;
}

/* Turns within a segment by which the rotations of a batch may go apart: where all segments are
 * turned alike, and where each is by eighths of its own. */
static const double ALIKE_TURNS = 8e-6;
static const double BY_EIGHTHS_TURNS = 6.4e-5;

static double turns_apart(const wfi_grid_stream *stream, const wfi_alignment *alignments)
{
    const double segment_s = (double)stream->n_fft / (double)stream->rate_hz;
    double most = 0;
    for (size_t s = 1; s < WFI_BATCH_SEGMENTS; s++) {
        const double apart = fabs(alignments[s].rate_s_per_s - alignments[0].rate_s_per_s);
        most = apart > most ? apart : most;
    }
    return most * fabs(stream->rotation_hz) * segment_s;
}

bool wfi_batch_agrees(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                      const wfi_alignment *alignments)
{
    return !channelizer->rotated || turns_apart(stream, alignments) <= BY_EIGHTHS_TURNS;
}

/* The transforms of one stream's even and odd samples fill the second cache. */
size_t wfi_batch_streams_at_once(const wfi_channelizer *channelizer)
{
    return channelizer->rotated ? 1 : WFI_BATCH_STREAMS;
}

/* The mean rotation of all segments, in turns from sample to sample, and what each goes faster. How
 * it starts, and with that what it differs by in its middle, is left to its channels. */
static double mean_rotation(const wfi_grid_stream *stream, const wfi_alignment *alignments,
                            double *middle_turns, double *faster_turns)
{
    double start[WFI_BATCH_SEGMENTS];
    double step[WFI_BATCH_SEGMENTS];
    double sum = 0;
    for (size_t s = 0; s < WFI_BATCH_SEGMENTS; s++) {
        wfi_align_rotation(stream, &alignments[s], &start[s], &step[s]);
        sum += step[s] - step[0];
    }
    const double mean = step[0] + sum / WFI_BATCH_SEGMENTS;
    for (size_t s = 0; s < WFI_BATCH_SEGMENTS; s++) {
        faster_turns[s] = step[s] - mean;
        middle_turns[s] = start[s] + faster_turns[s] * 0.5 * ((double)stream->n_fft - 1.0);
    }
    return mean;
}

static void set_rotation(const wfi_batch_plan *plan, const wfi_grid_stream *stream,
                         const float level[4], const wfi_alignment *alignments,
                         wfi_batch_scratch *batch)
{
    double faster[WFI_BATCH_SEGMENTS];
    const double mean = mean_rotation(stream, alignments, batch->turns, faster);
    const bool alike = turns_apart(stream, alignments) <= ALIKE_TURNS;
    wfi_batch_rotation_set(&batch->rotation, plan, level, mean, alike ? NULL : faster);
}

void wfi_batch_begin(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                     const wfi_unpacker *unpacker, const wfi_alignment *alignments,
                     wfi_batch_scratch *batch)
{
    batch->phases_of = NULL;
    if (channelizer->rotated)
        set_rotation(&channelizer->transform->batch, stream, unpacker->level, alignments, batch);
    else
        wfi_batch_tables_set(&batch->tables, unpacker->level);
}

double wfi_batch_transform(const wfi_channelizer *channelizer, const wfi_unpacker *unpacker,
                           const wf_packed *packed, const wfi_alignment *alignments, size_t i,
                           wfi_batch_scratch *batch)
{
    enum { SAMPLES_OF_A_BYTE = 4, SAMPLE_BITS = 2 };
    const wfi_batch_kernels *kernels = channelizer->kernels->batch;
    const wfi_batch_plan *plan = &channelizer->transform->batch;
    wfi_batch_samples samples = {
        .bytes = packed->bytes,
        .to_next = WFI_BATCH_SEGMENTS * channelizer->transform->n_fft / SAMPLES_OF_A_BYTE,
    };
    for (size_t s = 0; s < WFI_BATCH_SEGMENTS; s++) {
        const uint64_t first = (uint64_t)(alignments[s].first_sample - packed->first);
        samples.byte[s] = (uint32_t)(first / SAMPLES_OF_A_BYTE);
        samples.shift[s] = (uint32_t)(first % SAMPLES_OF_A_BYTE) * SAMPLE_BITS;
    }
    if (channelizer->rotated)
        return kernels->transform_rotated(plan, &samples, unpacker->level, &batch->rotation,
                                          batch->words, batch->works[0], batch->works[1]);
    return kernels->transform(plan, &samples, unpacker->level, &batch->tables, batch->words,
                              batch->works[i]);
}

/* The phases of a piece, in the order of the bins; backwards conj(x) p = conj(x conj(p)). */
static void set_phases(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                       const wfi_grid_piece *piece, const wfi_alignment *alignments,
                       double band_first_hz, wfi_batch_scratch *batch)
{
    const double last = (double)(piece->n_channels - 1);
    double first_turns[WFI_BATCH_SEGMENTS];
    double step_turns[WFI_BATCH_SEGMENTS];
    for (size_t s = 0; s < WFI_BATCH_SEGMENTS; s++) {
        wfi_align_channels(stream, piece, &alignments[s], band_first_hz, channelizer->rotated,
                           &first_turns[s], &step_turns[s]);
        if (channelizer->rotated)
            first_turns[s] += batch->turns[s];
        if (wfi_channelize_runs_backwards(channelizer, stream))
            first_turns[s] = -(first_turns[s] + last * step_turns[s]);
    }
    channelizer->kernels->batch->phases(&batch->phases, first_turns, step_turns,
                                        channelizer->splits ? 0.5 : 1.0, piece->n_channels);
    batch->phases_of = piece;
}

/* Bins 0 to n - 1 fill the whole band, upwards or, conjugated, downwards. */
static void split(const wfi_channelizer *channelizer, bool backwards, size_t n_streams,
                  size_t row_stride, float *const *tiles, wfi_batch_scratch *batch)
{
    const wfi_batch_plan *plan = &channelizer->transform->batch;
    const wfi_batch_destination to = {
        .bin_stride = backwards ? -(ptrdiff_t)row_stride : (ptrdiff_t)row_stride,
        .conjugate = backwards,
        .past_caches = channelizer->past_caches,
    };
    float *of_bin_0[WFI_BATCH_STREAMS];
    for (size_t i = 0; i < n_streams; i++)
        of_bin_0[i] = tiles[i] + (backwards ? (plan->n - 1) * row_stride : 0);
    channelizer->kernels->batch->split(plan, &to, &batch->phases, n_streams, batch->works,
                                       of_bin_0);
}

static void join(const wfi_channelizer *channelizer, const wfi_grid_piece *piece, bool again,
                 size_t row_stride, float *tiles, wfi_batch_scratch *batch)
{
    const int64_t n_fft = (int64_t)channelizer->transform->n_fft;
    const int64_t bin = piece->first_bin % n_fft;
    const wfi_batch_destination to = {
        .bin_stride = (ptrdiff_t)row_stride,
        .past_caches = channelizer->past_caches,
    };
    channelizer->kernels->batch->join(&channelizer->transform->batch, &to, &batch->phases,
                                      (size_t)(bin < 0 ? bin + n_fft : bin), piece->n_channels,
                                      again, batch->works[0], batch->works[1],
                                      tiles + piece->first_channel * row_stride);
}

void wfi_batch_place(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                     const wfi_grid_piece *piece, bool again, const wfi_alignment *alignments,
                     double band_first_hz, size_t n_streams, size_t row_stride, float *const *tiles,
                     wfi_batch_scratch *batch)
{
    if (batch->phases_of != piece)
        set_phases(channelizer, stream, piece, alignments, band_first_hz, batch);
    if (channelizer->splits)
        split(channelizer, wfi_channelize_runs_backwards(channelizer, stream), n_streams,
              row_stride, tiles, batch);
    else
        join(channelizer, piece, again, row_stride, tiles[0], batch);
}
