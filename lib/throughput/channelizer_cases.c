/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "throughput/channelizer_cases.h"

#include "base/memory.h"
#include "base/status.h"
#include "engine/channelize_batch.h"
#include "throughput/kernel_case_state.h"

enum { SAMPLES_OF_A_BYTE = 4, READABLE_BEYOND = 128 };
static const char what[] = WFI_KERNEL_CASE_WHAT;

static void place_stream(wfi_kernel_case *made)
{
    const wfi_scene_setup *setup = &made->setup;
    made->stream = (wfi_grid_stream){
        .format = made->format,
        .rate_hz = setup->sample_rate_hz,
        .n_fft = made->n_fft,
        .zero_hz = setup->edge_hz,
        .sideband = 1,
        .rotation_hz = setup->edge_hz + (double)setup->sample_rate_hz / 4,
    };
    made->piece = (wfi_grid_piece){.n_channels = setup->n_channels};
    for (size_t s = 0; s < WFI_BATCH_SEGMENTS; s++)
        made->alignments[s] = (wfi_alignment){.first_sample = (int64_t)(s * made->n_fft),
                                              .fraction = 0.3,
                                              .tau_s = 1e-3,
                                              .rate_s_per_s = 1e-6};
}

/* What turns segments of one stream into channels, as the engine does. */
static wf_status prepare_channelizer(wfi_kernel_case *made, wf_error *err)
{
    place_stream(made);
    const bool rotated = made->setup.rotation == WF_ROTATION_BEFORE_FFT;
    const wfi_grid grid = {.streams = &made->stream, .n_streams = 1};
    WFI_TRY(wfi_transforms_create(&made->transforms, &grid, &rotated, err));
    made->channelizer = wfi_channelizer_of(made->kernels, made->transforms.distinct, &made->stream,
                                           &made->piece, 1, rotated);
    made->channelizer.batches = made->channelizer.batches && wfi_batch_decodes(made->format);
    return wfi_spectra_create(
        &made->spectra, made->setup.n_polarizations, made->setup.n_channels, made->n_fft,
        made->channelizer.batches ? &made->transforms.distinct->batch : NULL, err);
}

/* ----- segment by segment, through FFTW */

wf_status wfi_transform_case_prepare(wfi_kernel_case *made, wf_error *err)
{
    made->amount_of_a_round = (double)made->n_fft;
    WFI_TRY(prepare_channelizer(made, err));
    wfi_kernel_case_fill(made->spectra.samples, 2 * made->n_fft);
    return WF_OK;
}

void wfi_transform_case_run(wfi_kernel_case *made, size_t round)
{
    wfi_channelize_transform(&made->channelizer, &made->stream, made->alignments,
                             round % made->setup.n_polarizations, &made->spectra);
}

/* Floats from one row of tiles to the next; of all streams of a station. */
static size_t row_stride(const wfi_kernel_case *made)
{
    return made->setup.n_polarizations * WFI_TILE_FLOATS;
}

static wf_status prepare_tiles(wfi_kernel_case *made, size_t n_rows, wf_error *err)
{
    WFI_TRY(wfi_allocate(&made->tiles, n_rows * row_stride(made), sizeof(float), what, err));
    for (size_t i = 0; i < made->setup.n_polarizations; i++)
        made->spectra.tiles[i] = made->tiles + i * WFI_TILE_FLOATS;
    return WF_OK;
}

wf_status wfi_phase_case_prepare(wfi_kernel_case *made, wf_error *err)
{
    const size_t n = made->setup.n_channels;
    made->amount_of_a_round = (double)(n * made->setup.n_polarizations);
    WFI_TRY(prepare_channelizer(made, err));
    for (size_t i = 0; i < made->setup.n_polarizations; i++)
        wfi_kernel_case_fill((float *)made->spectra.bins[i], 2 * made->n_fft);
    return prepare_tiles(made, (n + WFI_TILE_CHANNELS - 1) / WFI_TILE_CHANNELS, err);
}

void wfi_phase_case_run(wfi_kernel_case *made, size_t round)
{
    made->alignments[0].fraction = 0.01 * (double)(round % 50);
    wfi_channelize_place(&made->channelizer, &made->stream, &made->piece, made->alignments,
                         made->setup.edge_hz, made->setup.n_polarizations, row_stride(made),
                         &made->spectra);
}

/* ----- in batches */

static wf_status prepare_batch(wfi_kernel_case *made, wf_error *err)
{
    const size_t n_bytes =
        WFI_BATCH_SEGMENTS * made->n_fft / SAMPLES_OF_A_BYTE + 1 + READABLE_BEYOND;
    WFI_TRY(prepare_channelizer(made, err));
    if (!made->channelizer.batches)
        return wfi_fail(err, WF_UNSUPPORTED, "such segments do not go in batches");
    WFI_TRY(wfi_unpacker_init(&made->unpacker, made->format, err));
    WFI_TRY(wfi_allocate(&made->bytes, n_bytes, 1, what, err));
    wfi_kernel_case_fill_packed(made->bytes, n_bytes);
    return WF_OK;
}

wf_status wfi_early_case_prepare(wfi_kernel_case *made, wf_error *err)
{
    made->amount_of_a_round =
        (double)(WFI_BATCH_SEGMENTS * made->n_fft * made->setup.n_polarizations);
    return prepare_batch(made, err);
}

void wfi_early_case_run(wfi_kernel_case *made, size_t round)
{
    const size_t at_once = wfi_batch_streams_at_once(&made->channelizer);
    const wf_packed packed = {.bytes = made->bytes,
                              .first = -(int64_t)(round % SAMPLES_OF_A_BYTE),
                              .n = (int64_t)(WFI_BATCH_SEGMENTS * made->n_fft) + SAMPLES_OF_A_BYTE};
    wfi_batch_begin(&made->channelizer, &made->stream, &made->unpacker, made->alignments,
                    &made->spectra.batch);
    for (size_t i = 0; i < made->setup.n_polarizations; i++)
        (void)wfi_batch_transform(&made->channelizer, &made->unpacker, &packed, made->alignments,
                                  i % at_once, &made->spectra.batch);
}

/* Run on nothing but zeros: what a round leaves behind is the next one's. */
wf_status wfi_late_case_prepare(wfi_kernel_case *made, wf_error *err)
{
    made->amount_of_a_round =
        (double)(WFI_BATCH_SEGMENTS * made->setup.n_channels * made->setup.n_polarizations);
    WFI_TRY(prepare_batch(made, err));
    wfi_batch_begin(&made->channelizer, &made->stream, &made->unpacker, made->alignments,
                    &made->spectra.batch);
    return prepare_tiles(made, made->setup.n_channels, err);
}

void wfi_late_case_run(wfi_kernel_case *made, size_t round)
{
    const size_t at_once = wfi_batch_streams_at_once(&made->channelizer);
    const size_t n_streams = made->setup.n_polarizations;
    made->alignments[0].fraction = 0.01 * (double)(round % 50);
    made->spectra.batch.phases_of = NULL;
    for (size_t i = 0; i < n_streams; i += at_once)
        wfi_batch_place(&made->channelizer, &made->stream, &made->piece, false, made->alignments,
                        made->setup.edge_hz, at_once < n_streams - i ? at_once : n_streams - i,
                        row_stride(made), made->spectra.tiles + i, &made->spectra.batch);
}
