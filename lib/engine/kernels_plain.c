/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kernels in plain C: what the others are held against. */
#include "engine/kernels_scalar.h"
#include "engine/phases_body.h"

static void rotate(const float *samples, size_t n, bool is_complex, float sense,
                   const wfi_phases *phases, float *out)
{
    for (size_t m = 0; m < n; m++)
        wfi_rotate_sample(samples, m, is_complex, sense, phases, out);
}

static void split(const wfi_destination *to, const float *twiddle, size_t n_streams,
                  const float *const *halves, float *const *tiles)
{
    const size_t n = to->n_channels;
    for (size_t s = 0; s < n_streams; s++) {
        for (size_t k = 0; k < n; k++) {
            const float *z = halves[s] + 2 * k;
            const float *mirror = halves[s] + 2 * (n - k);
            const size_t j = k <= n / 2 ? k : n - k; /* exp(-i pi k/n) = -conj exp(-i pi (n-k)/n) */
            const float c = k <= n / 2 ? twiddle[j] : -twiddle[j];
            const float d = twiddle[n / 2 + 1 + j];
            const float odd_re = z[1] + mirror[1];
            const float odd_im = mirror[0] - z[0];
            const float x = z[0] + mirror[0] + (odd_re * c - odd_im * d);
            const float y = z[1] - mirror[1] + (odd_re * d + odd_im * c);
            if (to->conjugate)
                wfi_put(to, n - 1 - k, x, -y, tiles[s]);
            else
                wfi_put(to, k, x, y, tiles[s]);
        }
    }
}

static void place(const wfi_destination *to, const float *bins, float *tiles)
{
    for (size_t c = to->first_channel; c < to->first_channel + to->n_channels; c++)
        wfi_place_channel(to, c, bins, tiles);
}

static void cross_product(const float *a, const float *b, size_t n_segments, float *sum)
{
    enum { N = WFI_TILE_CHANNELS };
    for (size_t s = 0; s < n_segments; s++, a += WFI_TILE_FLOATS, b += WFI_TILE_FLOATS) {
        for (size_t k = 0; k < N; k++) {
            sum[k] += a[k] * b[k] + a[N + k] * b[N + k];
            sum[N + k] += a[N + k] * b[k] - a[k] * b[N + k];
        }
    }
}

static void cross(const float *a, const float *b, size_t input_stride, size_t n_segments,
                  const float *ahead, float *sums)
{
    (void)ahead;
    for (size_t p = 0; p < WFI_PAIR_PRODUCTS; p++)
        cross_product(a + p / 2 * input_stride, b + p % 2 * input_stride, n_segments,
                      sums + p * WFI_TILE_FLOATS);
}

const wfi_kernels wfi_kernels_plain = {
    .name = "plain",
    .phases = set_phases,
    .unpack = wfi_unpack_plain,
    .rotate = rotate,
    .split = split,
    .place = place,
    .cross = cross,
};
