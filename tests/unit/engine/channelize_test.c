/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <complex.h>

#include "engine/channelize.h"
#include "families.h"

enum { CHANNELS_MAX = 64, TILES = 4, STRIDE = WFI_TILE_FLOATS, N_MAX = 128 };

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

static void check_channels(const wfi_kernels *kernels, const wfi_grid_stream *stream,
                           const wfi_grid_piece *piece, bool rotated)
{
    wfi_grid_stream streams[1] = {*stream};
    const wfi_grid grid = {.streams = streams, .n_streams = 1};
    const double band_first_hz = stream->zero_hz;
    wfi_alignment alignment = {.fraction = 0.3, .rate_s_per_s = 1e-6, .tau_s = 2.1e-7};
    wf_error err = WF_ERROR_INIT;
    wfi_transforms transforms = {0};
    wfi_spectra spectra = {0};
    wf_check_ok(wfi_transforms_create(&transforms, &grid, &rotated, &err), &err);
    wf_check_ok(wfi_spectra_create(&spectra, 1, CHANNELS_MAX, stream->n_fft, 0, &err), &err);
    const wfi_channelizer channelizer =
        wfi_channelizer_of(kernels, &transforms.distinct[0], stream, piece, 1, rotated);
    float copy[2 * N_MAX];
    uint32_t random = 7;
    const size_t group = stream->format.is_complex ? 2 : 1;
    for (size_t i = 0; i < group * stream->n_fft; i++) {
        random = random * 1664525u + 1013904223u;
        spectra.samples[i] = copy[i] = (float)(int32_t)random / 2147483648.0f;
    }
    float tiles[TILES * STRIDE] = {0};
    spectra.tiles[0] = tiles;
    wfi_channelize_transform(&channelizer, stream, &alignment, 0, &spectra);
    wfi_channelize_place(&channelizer, stream, piece, &alignment, band_first_hz, 1, STRIDE,
                         &spectra);
    double first_turns = 0;
    double step_turns = 0;
    wfi_align_channels(stream, piece, &alignment, band_first_hz, rotated, &first_turns,
                       &step_turns);
    for (size_t c = 0; c < TILES * WFI_TILE_CHANNELS; c++) {
        const float *tile = tiles + c / WFI_TILE_CHANNELS * STRIDE + c % WFI_TILE_CHANNELS;
        double complex want = 0;
        if (c >= piece->first_channel && c < piece->first_channel + piece->n_channels) {
            const size_t k = c - piece->first_channel;
            want = defined_channel(stream, copy, rotated, &alignment, piece->first_bin + (int64_t)k,
                                   first_turns + step_turns * (double)k);
        }
        /* Float sums of up to 128 terms below 1.5: 128 x 1.5 x 2^-24 x 4. */
        wf_check_near("re", (double)tile[0], creal(want), 5e-5, "");
        wf_check_near("im", (double)tile[WFI_TILE_CHANNELS], cimag(want), 5e-5, "");
    }
    wfi_transforms_destroy(&transforms);
    wfi_spectra_destroy(&spectra);
}

static void check_piece(bool is_complex, int sideband, bool rotated, size_t n_fft,
                        size_t first_channel, size_t n_channels, int64_t first_bin)
{
    const wfi_grid_stream stream = {
        .format = {WF_ENCODING_FLOAT, 32, is_complex, 1},
        .rate_hz = 1000000,
        .n_fft = n_fft,
        .zero_hz = 86e9,
        .rotation_hz = 86e9,
        .residual_hz = rotated ? 321.0 : 0.0,
        .sideband = sideband,
    };
    const wfi_grid_piece piece = {
        .first_channel = first_channel, .n_channels = n_channels, .first_bin = first_bin};
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++)
        check_channels(kernels, &stream, &piece, rotated);
}

static void check_stream(bool is_complex, int sideband, bool rotated, size_t n_fft,
                         int64_t first_bin)
{
    check_piece(is_complex, sideband, rotated, n_fft, 5, 35, first_bin);
}

/* The route in which the split is one with phase and layout, and sizes that miss it. */
static void channelize_is_the_defining_sum_for_whole_real_bands(void **state)
{
    (void)state;
    check_piece(false, 1, false, 128, 0, 64, 0);
    check_piece(false, -1, false, 128, 0, 64, -63);
    check_piece(false, 1, false, 64, 0, 32, 0);
    check_piece(false, -1, false, 64, 0, 32, -31);
    check_piece(false, 1, false, 96, 0, 48, 0);
    check_piece(false, -1, false, 94, 0, 47, -46);
    check_piece(false, 1, false, 2, 3, 1, 0);
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
        cmocka_unit_test(channelize_is_the_defining_sum_for_whole_real_bands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
