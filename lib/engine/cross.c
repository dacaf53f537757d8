/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cross-multiplication: sixteen channels side by side, float within a block of segments,
 * double across blocks. */
#include "engine/cross.h"

#include "engine/channelize.h"

void wfi_cross_accumulate(const float *a, const float *b, size_t n_segments, double complex *out,
                          size_t n_channels)
{
    enum { N = WFI_TILE_CHANNELS };
    float re[N] = {0};
    float im[N] = {0};
    for (size_t s = 0; s < n_segments; s++, a += 2 * N, b += 2 * N) {
        for (size_t k = 0; k < N; k++) {
            re[k] += a[k] * b[k] + a[N + k] * b[N + k];
            im[k] += a[N + k] * b[k] - a[k] * b[N + k];
        }
    }
    for (size_t k = 0; k < n_channels; k++)
        out[k] += CMPLX((double)re[k], (double)im[k]);
}
