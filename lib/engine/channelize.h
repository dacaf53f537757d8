/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the samples of a segment to the channels of the grid: rotate, transform, put into phase and
 * lay out for the cross-multiplication. */
#ifndef WFI_ENGINE_CHANNELIZE_H
#define WFI_ENGINE_CHANNELIZE_H

#include <fftw3.h>
#include <stdbool.h>
#include <stddef.h>

#include "engine/align.h"
#include "engine/grid.h"

/** Channels of one tile: the width of the cross-multiplication. */
enum { WFI_TILE_CHANNELS = 16 };

/** FFTW plans for the lengths and kinds that the streams need; shared by all threads. */
typedef struct wfi_transforms wfi_transforms;

/** given  rotated  [n_streams] whether its samples are rotated before the FFT */
wf_status wfi_transforms_create(wfi_transforms **out, const wfi_grid *grid, const bool *rotated,
                                wf_error *err);
void wfi_transforms_destroy(wfi_transforms *transforms);

/** Buffers of one thread. */
typedef struct wfi_spectrum {
    fftwf_complex *rotated; /* [n_fft of the longest] */
    fftwf_complex *bins;    /* [n_fft of the longest] */
} wfi_spectrum;

wf_status wfi_spectrum_create(wfi_spectrum *spectrum, const wfi_grid *grid, wf_error *err);
void wfi_spectrum_destroy(wfi_spectrum *spectrum);

/** Transform the samples of a segment into spectrum->bins.
 *
 *  given  samples  [n_fft] or [n_fft][2]; aligned to 64 bytes, may be overwritten
 */
void wfi_transform(const wfi_transforms *transforms, size_t i_stream, const wfi_grid_stream *stream,
                   const wfi_alignment *alignment, float *samples, wfi_spectrum *spectrum);

/** Put the channels of a piece into phase and into their tiles.
 *
 *  given     first_turns, step_turns  from wfi_align_channels
 *  returned  tiles   of the piece's band, input and segment: channel c goes to
 *                    tiles[(c / 16) * tile_stride + c % 16], its imaginary part 16 further on
 */
void wfi_place_channels(const wfi_grid_stream *stream, const wfi_grid_piece *piece, bool rotated,
                        const wfi_spectrum *spectrum, double first_turns, double step_turns,
                        float *tiles, size_t tile_stride);

#endif
