/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cross-multiplication of one tile.
 *
 * Layout of a tile: [input][segment][16 re, 16 im]; tiles of a band follow one another by channel.
 * This file's C is the specification of the kernel.
 */
#ifndef WFI_ENGINE_CROSS_H
#define WFI_ENGINE_CROSS_H

#include <complex.h>
#include <stddef.h>

/** Add sum over segments of a conj(b) to out [16].
 *
 *  given  a, b  [n_segments][2][16] of two inputs of one tile
 */
void wfi_cross_accumulate(const float *a, const float *b, size_t n_segments, double complex *out,
                          size_t n_channels);

#endif
