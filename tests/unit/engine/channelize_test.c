/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <complex.h>

#include "engine/channelize.h"

enum { CHANNELS = 40, TILES = 3, STRIDE = 2 * WFI_TILE_CHANNELS, N_MAX = 80 };

static const double TWO_PI = 6.283185307179586;

/* The definition: sum of z_m exp(-2 pi i b m / n), z rotated before where asked, then turned. */
static double complex defined_channel(const wfi_grid_stream *stream, const float *samples,
                                      bool rotated, const wfi_alignment *alignment, int64_t bin,
                                      double turns)
{
    double complex sum = 0;
    const double fs = (double)stream->rate_hz;
    const double n = (double)stream->n_fft;
    for (size_t m = 0; m < stream->n_fft; m++) {
        double complex z = stream->format.is_complex
                               ? CMPLX((double)samples[2 * m], (double)samples[2 * m + 1])
                               : (double)samples[m];
        if (stream->format.is_complex && stream->sideband < 0)
            z = conj(z);
        const double u = (double)m - alignment->fraction - (n - 1) / 2;
        const double rotation = stream->rotation_hz * alignment->rate_s_per_s * u / fs -
                                stream->residual_hz * (double)m / fs;
        if (rotated)
            z *= cexp(I * TWO_PI * rotation);
        sum += z * cexp(-I * TWO_PI * (double)bin * (double)m / n);
    }
    return sum * cexp(I * TWO_PI * turns);
}

static void check_stream(bool is_complex, int sideband, bool rotated, size_t n_fft,
                         int64_t first_bin)
{
    wfi_grid_stream stream = {
        .format = {WF_ENCODING_FLOAT, 32, is_complex, 1},
        .rate_hz = 1000000,
        .n_fft = n_fft,
        .rotation_hz = 86e9,
        .residual_hz = rotated ? 321.0 : 0.0,
        .sideband = sideband,
    };
    const wfi_grid grid = {.streams = &stream, .n_streams = 1};
    const wfi_grid_piece piece = {
        .first_channel = 5, .n_channels = CHANNELS - 5, .first_bin = first_bin};
    const wfi_alignment alignment = {.fraction = 0.3, .rate_s_per_s = 1e-6};
    wf_error err = WF_ERROR_INIT;
    wfi_transforms *transforms = NULL;
    wfi_spectrum spectrum = {0};
    wf_check_ok(wfi_transforms_create(&transforms, &grid, &rotated, &err), &err);
    wf_check_ok(wfi_spectrum_create(&spectrum, &grid, &err), &err);
    _Alignas(64) float samples[2 * N_MAX];
    _Alignas(64) float copy[2 * N_MAX];
    uint32_t random = 7;
    for (size_t i = 0; i < 2 * N_MAX; i++) {
        random = random * 1664525u + 1013904223u;
        samples[i] = copy[i] = (float)(int32_t)random / 2147483648.0f;
    }
    float tiles[TILES * STRIDE];
    memset(tiles, 0, sizeof tiles);
    wfi_transform(transforms, 0, &stream, &alignment, samples, &spectrum);
    wfi_place_channels(&stream, &piece, rotated, &spectrum, 0.21, -0.0043, tiles, STRIDE);
    for (size_t c = 0; c < TILES * WFI_TILE_CHANNELS; c++) {
        const float *tile = tiles + c / WFI_TILE_CHANNELS * STRIDE + c % WFI_TILE_CHANNELS;
        double complex want = 0;
        if (c >= 5 && c < CHANNELS)
            want = defined_channel(&stream, copy, rotated, &alignment, first_bin + (int64_t)c - 5,
                                   0.21 - 0.0043 * (double)(c - 5));
        /* Float sums of up to 80 terms below 1.5: 80 x 1.5 x 2^-24 x 4. */
        wf_check_near("re", (double)tile[0], creal(want), 3e-5, "");
        wf_check_near("im", (double)tile[WFI_TILE_CHANNELS], cimag(want), 3e-5, "");
    }
    wfi_transforms_destroy(transforms);
    wfi_spectrum_destroy(&spectrum);
}

static void channelize_is_the_defining_sum_for_real_streams(void **state)
{
    (void)state;
    check_stream(false, 1, false, 80, 0);
    check_stream(false, 1, false, 79, 3);
    check_stream(false, -1, false, 80, -40);
    check_stream(false, 1, true, 80, 0);
    check_stream(false, -1, true, 77, -36);
}

static void channelize_is_the_defining_sum_for_complex_streams(void **state)
{
    (void)state;
    check_stream(true, 1, false, 40, -20);
    check_stream(true, -1, false, 40, -19);
    check_stream(true, 1, true, 64, -32);
    check_stream(true, -1, true, 41, -20);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(channelize_is_the_defining_sum_for_real_streams),
        cmocka_unit_test(channelize_is_the_defining_sum_for_complex_streams),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
