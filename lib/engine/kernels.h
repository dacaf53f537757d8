/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The loops in which the engine spends its time, in three families: plain C, which specifies them,
 * AVX2 with FMA, and AVX-512. All of a family's results depend on its arguments alone. Between
 * families they differ by rounding: by the order of sums and by fused multiply-adds.
 */
#ifndef WFI_ENGINE_KERNELS_H
#define WFI_ENGINE_KERNELS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "engine/batch_kernels.h"
#include "engine/pairs.h"
#include "engine/phases.h"
#include "engine/tile.h"
#include "engine/unpack.h"

_Static_assert((int)WFI_BATCH_SEGMENTS == (int)WFI_TILE_SEGMENTS, "a batch fills a tile");

enum { WFI_SPLIT_CHANNELS = 32 }; /* n_channels of a split is a multiple of it */

/** Where a run of channels of a segment goes: channel c to tiles[c / 16 * row_stride + c % 16], its
 *  imaginary part 16 floats further on, both multiplied by phasor c of `phases`. */
typedef struct wfi_destination {
    size_t first_channel;
    size_t n_channels;
    bool conjugate; /* the bins run against the sky: descending, conjugated */
    const wfi_phases *phases;
    size_t row_stride;
    bool past_caches; /* written to memory at once; tiles on lines of 64 bytes */
} wfi_destination;

typedef struct wfi_kernels {
    const char *name;

    /** Phasor k = amplitude * exp(2 pi i (first_turns + k step_turns)) for k < n. */
    void (*phases)(wfi_phases *phases, double first_turns, double step_turns, double amplitude,
                   size_t n);

    /** Decode n components (of complex samples: twice as many as samples) of one channel.
     *
     *  given     bytes   of the packed samples; 64 bytes beyond the last are readable
     *            sample  which of them is the first
     *  returned  out     [n]
     *  returns           sum of out^2
     */
    double (*unpack)(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t sample,
                     uint32_t channel, size_t n, float *out);

    /** out[m] = z[m] * phasor m, z being the samples, conjugated for `sense` -1.
     *
     *  given  samples  [n], or [n][2] of complex samples
     */
    void (*rotate)(const float *samples, size_t n, bool is_complex, float sense,
                   const wfi_phases *phases, float *out);

    /** Channels of real samples from the transforms of half their length.
     *
     *  With Z the transform of z_m = x_2m + i x_2m+1 and n = n_channels, twice the bin k of x is
     *  Z_k + conj Z_n-k - i (Z_k - conj Z_n-k) exp(-i pi k / n): the phases hold the 1/2.
     *
     *  given     to       first_channel 0, all channels; bin k is channel k, or n - 1 - k
     *            twiddle  [2][n / 2 + 1] real and imaginary part of exp(-i pi k / n)
     *            halves   [n_streams] Z, [n + 1][2], Z_n = Z_0
     *  returned  tiles    [n_streams]
     */
    void (*split)(const wfi_destination *to, const float *twiddle, size_t n_streams,
                  const float *const *halves, float *const *tiles);

    /** Put bins that follow one another into phase and into tiles.
     *
     *  given  bins  [n_channels][2]; where `conjugate`, the first channel takes the last
     */
    void (*place)(const wfi_destination *to, const float *bins, float *tiles);

    /** Add the sums over segments of a_i conj(b_j) of one tile.
     *
     *  given     a, b          two inputs each: [2][input_stride], [n_segments] tiles of each
     *            ahead         n_segments tiles that will be wanted soon: fetched meanwhile, as are
     *                          the sums that follow these
     *  returned  sums          [4] tiles: (a0,b0) (a0,b1) (a1,b0) (a1,b1), added to
     */
    void (*cross)(const float *a, const float *b, size_t input_stride, size_t n_segments,
                  const float *ahead, float *sums);

    /** NULL: this family has no batches, since with fewer registers they gain nothing on FFTW. */
    const wfi_batch_kernels *batch;
} wfi_kernels;

extern const wfi_kernels wfi_kernels_plain;
#if defined(WFI_HAVE_X86_KERNELS)
extern const wfi_kernels wfi_kernels_avx2;
extern const wfi_kernels wfi_kernels_avx512;
#endif

/** The family of a name, or the fastest that this processor has for NULL.
 *
 *  status  OK | UNSUPPORTED: no such family, or the processor lacks it; the message lists what
 *          there is
 */
wf_status wfi_kernels_choose(const wfi_kernels **out, const char *name, wf_error *err);

#endif
