/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the samples of a batch of segments to the channels of the grid. */
#ifndef WFI_ENGINE_CHANNELIZE_BATCH_H
#define WFI_ENGINE_CHANNELIZE_BATCH_H

#include "engine/channelize.h"

/** Does a batch decode such samples? Two-bit real ones, alone in their thread. */
bool wfi_batch_decodes(wf_sample_format format);

/** Can these segments go in a batch?
 *
 *  Where they are rotated, all are by the mean of their rates. If these go apart by more than 8e-6
 *  of a turn within a segment each is turned by eighths besides, up to 6.4e-5. So the phase of a
 *  sample is wrong by less than 2e-6 of a turn, on the mean of a segment right: a sum loses less
 *  than 1e-10 of its size, and a bin gets less than 1e-5 of the amplitude of its neighbours.
 *
 *  given  alignments  [segments], here and below
 */
bool wfi_batch_agrees(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                      const wfi_alignment *alignments);

/** Streams of a bundle to be transformed and placed at once. */
size_t wfi_batch_streams_at_once(const wfi_channelizer *channelizer);

/** Begin a batch of a bundle. */
void wfi_batch_begin(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                     const wfi_unpacker *unpacker, const wfi_alignment *alignments,
                     wfi_batch_scratch *batch);

/** Decode and transform the i-th of the streams at once.
 *
 *  given    packed  of its thread
 *  returns          sum of the samples' squares
 */
double wfi_batch_transform(const wfi_channelizer *channelizer, const wfi_unpacker *unpacker,
                           const wf_packed *packed, const wfi_alignment *alignments, size_t i,
                           wfi_batch_scratch *batch);

/** Put the channels of a piece into phase and into tiles.
 *
 *  given     again      not the first piece of these streams
 *            n_streams  at once
 *  returned  tiles      [n_streams] those of channel 0, row_stride from one to the next
 */
void wfi_batch_place(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                     const wfi_grid_piece *piece, bool again, const wfi_alignment *alignments,
                     double band_first_hz, size_t n_streams, size_t row_stride, float *const *tiles,
                     wfi_batch_scratch *batch);

#endif
