/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The transforms of the streams' segments, by FFTW. */
#ifndef WFI_ENGINE_TRANSFORMS_H
#define WFI_ENGINE_TRANSFORMS_H

#include <fftw3.h>
#include <stdbool.h>
#include <stddef.h>

#include "engine/batch.h"
#include "engine/grid.h"

/** How the samples of a segment become bins. */
typedef enum wfi_route {
    WFI_ROUTE_HALF,    /* n real samples as n / 2 complex ones, split afterwards: half the work */
    WFI_ROUTE_REAL,    /* an odd number of real samples */
    WFI_ROUTE_COMPLEX, /* complex samples, or real ones that were rotated */
} wfi_route;

/** One length and kind; shared by all threads. */
typedef struct wfi_transform {
    wfi_route route;
    size_t n_fft;         /* samples a segment */
    float *twiddle;       /* HALF: see wfi_kernels.split */
    wfi_batch_plan batch; /* n = 0 where the length is none of a batch */
    fftwf_plan plan;
} wfi_transform;

typedef struct wfi_transforms {
    wfi_transform *distinct; /* [n_distinct] */
    size_t n_distinct;
    size_t *of_stream; /* [n_streams] index into distinct */
} wfi_transforms;

/** given  rotated  [n_streams] whether its samples are rotated before the FFT */
wf_status wfi_transforms_create(wfi_transforms *transforms, const wfi_grid *grid,
                                const bool *rotated, wf_error *err);
void wfi_transforms_destroy(wfi_transforms *transforms);

/** Transform a segment.
 *
 *  given     in   the samples, aligned to 64 bytes; may be overwritten
 *  returned  out  [n_fft + 1] at most: Z of wfi_kernels.split with Z_n = Z_0, or the bins
 */
void wfi_transform_execute(const wfi_transform *transform, float *in, fftwf_complex *out);

/** Bins 0 .. n_fft / 2 of real samples from the transform of half their length. */
void wfi_transform_unfold(const wfi_transform *transform, const fftwf_complex *half,
                          fftwf_complex *bins);

#endif
