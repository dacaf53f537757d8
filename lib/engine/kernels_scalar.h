/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One channel at a time: for plain C, and for the ends that do not fill a vector. */
#ifndef WFI_ENGINE_KERNELS_SCALAR_H
#define WFI_ENGINE_KERNELS_SCALAR_H

#include "engine/kernels.h"

static inline void wfi_phasor_at(const wfi_phases *phases, size_t k, float *re, float *im)
{
    const float block_re = phases->block_re[k / WFI_PHASE_BLOCK];
    const float block_im = phases->block_im[k / WFI_PHASE_BLOCK];
    const float step_re = phases->step_re[k % WFI_PHASE_BLOCK];
    const float step_im = phases->step_im[k % WFI_PHASE_BLOCK];
    *re = block_re * step_re - block_im * step_im;
    *im = block_re * step_im + block_im * step_re;
}

static inline void wfi_rotate_sample(const float *samples, size_t m, bool is_complex, float sense,
                                     const wfi_phases *phases, float *out)
{
    float re = 0;
    float im = 0;
    wfi_phasor_at(phases, m, &re, &im);
    const float x = is_complex ? samples[2 * m] : samples[m];
    const float y = is_complex ? sense * samples[2 * m + 1] : 0.0f;
    out[2 * m] = x * re - y * im;
    out[2 * m + 1] = x * im + y * re;
}

static inline size_t wfi_first_tile_channel(const wfi_destination *to)
{
    return to->first_channel / WFI_TILE_CHANNELS * WFI_TILE_CHANNELS;
}

/* Channel c of the tiles = (x + i y) * its phasor. */
static inline void wfi_put(const wfi_destination *to, size_t c, float x, float y, float *tiles)
{
    float re = 0;
    float im = 0;
    wfi_phasor_at(to->phases, c - wfi_first_tile_channel(to), &re, &im);
    float *at = tiles + c / WFI_TILE_CHANNELS * to->row_stride + c % WFI_TILE_CHANNELS;
    at[0] = x * re - y * im;
    at[WFI_TILE_CHANNELS] = x * im + y * re;
}

/* Channel c of a run, from the run's bins. */
static inline void wfi_place_channel(const wfi_destination *to, size_t c, const float *bins,
                                     float *tiles)
{
    const size_t k = c - to->first_channel;
    const float *bin = bins + 2 * (to->conjugate ? to->n_channels - 1 - k : k);
    wfi_put(to, c, bin[0], to->conjugate ? -bin[1] : bin[1], tiles);
}

#endif
