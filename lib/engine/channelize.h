/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the samples of a segment to the channels of the grid: rotate, transform, put into phase and
 * lay out for the cross-multiplication. */
#ifndef WFI_ENGINE_CHANNELIZE_H
#define WFI_ENGINE_CHANNELIZE_H

#include <fftw3.h>

#include "engine/align.h"
#include "engine/grid.h"
#include "engine/kernels.h"
#include "engine/phases.h"
#include "engine/transforms.h"

/** How the segments of a bundle's streams become channels. */
typedef struct wfi_channelizer {
    const wfi_kernels *kernels;
    const wfi_transform *transform;
    bool rotated;     /* before the FFT */
    bool splits;      /* the split of a half-length transform is one with phase and layout */
    bool batches;     /* segments that are wholly valid go in batches */
    bool past_caches; /* tiles are written to memory at once */
} wfi_channelizer;

/** given  stream, pieces  any of the bundle's, and its pieces */
wfi_channelizer wfi_channelizer_of(const wfi_kernels *kernels, const wfi_transform *transform,
                                   const wfi_grid_stream *stream, const wfi_grid_piece *pieces,
                                   size_t n_pieces, bool rotated);

/** A stream of lower sideband that was not rotated was not conjugated either, so its bins run
 * against the sky and hold conjugates. */
static inline bool wfi_channelize_runs_backwards(const wfi_channelizer *channelizer,
                                                 const wfi_grid_stream *stream)
{
    return stream->sideband < 0 && !channelizer->rotated;
}

/** Buffers of one thread. */
typedef struct wfi_spectra {
    float *samples;         /* [2 n_fft] of one segment of one stream */
    fftwf_complex *scratch; /* [n_fft + 1] */
    fftwf_complex **bins;   /* [n_streams] each [n_fft + 1]; where the bundle splits, halves */
    float **tiles;          /* [n_streams] the caller's, of the piece that is placed */
    wfi_phases phases;
    wfi_batch_scratch batch;
    size_t n_streams;
} wfi_spectra;

/** given  n_streams   most of any bundle
 *         longest     plan of the longest batch, or NULL
 *         n_channels  of a band
 *         n_fft       the longest */
wf_status wfi_spectra_create(wfi_spectra *spectra, size_t n_streams, size_t n_channels,
                             size_t n_fft, const wfi_batch_plan *longest, wf_error *err);
void wfi_spectra_destroy(wfi_spectra *spectra);

/** Transform spectra->samples, [n_fft] or [n_fft][2], into spectra->bins[i]; they are overwritten.
 */
void wfi_channelize_transform(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                              const wfi_alignment *alignment, size_t i, wfi_spectra *spectra);

/** Put the channels of a piece of a bundle's streams into phase and into spectra->tiles. */
void wfi_channelize_place(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                          const wfi_grid_piece *piece, const wfi_alignment *alignment,
                          double band_first_hz, size_t n_streams, size_t row_stride,
                          wfi_spectra *spectra);

#endif
