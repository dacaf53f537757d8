/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the samples of a segment to the channels of the grid. */
#include "engine/channelize.h"

#include "base/memory.h"
#include "base/status.h"

static bool fills_whole_band(const wfi_grid_stream *stream, const wfi_grid_piece *piece)
{
    const size_t n = stream->n_fft / 2;
    const int64_t first_bin = stream->sideband < 0 ? 1 - (int64_t)n : 0;
    return piece->first_channel == 0 && piece->n_channels == n && piece->first_bin == first_bin;
}

/* No piece wraps round the transform. */
static bool are_short(const wfi_grid_piece *pieces, size_t n_pieces, size_t n_points)
{
    for (size_t p = 0; p < n_pieces; p++) {
        if (pieces[p].n_channels > n_points)
            return false;
    }
    return true;
}

wfi_channelizer wfi_channelizer_of(const wfi_kernels *kernels, const wfi_transform *transform,
                                   const wfi_grid_stream *stream, const wfi_grid_piece *pieces,
                                   size_t n_pieces, bool rotated)
{
    wfi_channelizer channelizer = {
        .kernels = kernels,
        .transform = transform,
        .rotated = rotated,
        .splits = transform->route == WFI_ROUTE_HALF && n_pieces == 1 &&
                  fills_whole_band(stream, pieces) && stream->n_fft / 2 % WFI_SPLIT_CHANNELS == 0,
    };
    channelizer.batches =
        kernels->batch != NULL && transform->batch.n > 0 &&
        (channelizer.splits || (rotated && are_short(pieces, n_pieces, transform->batch.n)));
    return channelizer;
}

wf_status wfi_spectra_create(wfi_spectra *spectra, size_t n_streams, size_t n_channels,
                             size_t n_fft, const wfi_batch_plan *longest, wf_error *err)
{
    static const char what[] = "spectra";
    const size_t n_phases =
        n_channels + WFI_TILE_CHANNELS > n_fft ? n_channels + WFI_TILE_CHANNELS : n_fft;
    spectra->n_streams = n_streams;
    WFI_TRY(wfi_allocate(&spectra->samples, 2 * n_fft, sizeof(float), what, err));
    WFI_TRY(wfi_allocate(&spectra->scratch, n_fft + 1, sizeof(fftwf_complex), what, err));
    WFI_TRY(wfi_allocate(&spectra->bins, n_streams, sizeof(fftwf_complex *), what, err));
    WFI_TRY(wfi_allocate(&spectra->tiles, n_streams, sizeof(float *), what, err));
    for (size_t i = 0; i < n_streams; i++)
        WFI_TRY(wfi_allocate(&spectra->bins[i], n_fft + 1, sizeof(fftwf_complex), what, err));
    if (longest != NULL)
        WFI_TRY(wfi_batch_scratch_create(&spectra->batch, longest, err));
    return wfi_phases_create(&spectra->phases, n_phases, err);
}

void wfi_spectra_destroy(wfi_spectra *spectra)
{
    for (size_t i = 0; spectra->bins != NULL && i < spectra->n_streams; i++)
        wfi_free(spectra->bins[i]);
    wfi_free(spectra->samples);
    wfi_free(spectra->scratch);
    wfi_free(spectra->bins);
    wfi_free(spectra->tiles);
    wfi_phases_destroy(&spectra->phases);
    wfi_batch_scratch_destroy(&spectra->batch);
    *spectra = (wfi_spectra){0};
}

static void rotate(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                   const wfi_alignment *alignment, wfi_spectra *spectra)
{
    double start_turns = 0;
    double step_turns = 0;
    wfi_align_rotation(stream, alignment, &start_turns, &step_turns);
    channelizer->kernels->phases(&spectra->phases, start_turns, step_turns, 1.0, stream->n_fft);
    channelizer->kernels->rotate(spectra->samples, stream->n_fft, stream->format.is_complex,
                                 (float)stream->sideband, &spectra->phases,
                                 (float *)spectra->scratch);
}

void wfi_channelize_transform(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                              const wfi_alignment *alignment, size_t i, wfi_spectra *spectra)
{
    const wfi_transform *transform = channelizer->transform;
    fftwf_complex *bins = spectra->bins[i];
    if (channelizer->rotated) {
        rotate(channelizer, stream, alignment, spectra);
        wfi_transform_execute(transform, (float *)spectra->scratch, bins);
    } else if (transform->route == WFI_ROUTE_HALF && !channelizer->splits) {
        wfi_transform_execute(transform, spectra->samples, spectra->scratch);
        wfi_transform_unfold(transform, (const fftwf_complex *)spectra->scratch, bins);
    } else {
        wfi_transform_execute(transform, spectra->samples, bins);
    }
}

/* Channels [begin, end) of a piece from bins that follow one another, the lowest being `lowest`. */
static void place_run(const wfi_channelizer *channelizer, const wfi_destination *piece,
                      size_t begin, size_t end, const fftwf_complex *lowest, float *tiles)
{
    const size_t first_tile = piece->first_channel / WFI_TILE_CHANNELS;
    const size_t skipped = begin / WFI_TILE_CHANNELS - first_tile;
    wfi_phases phases = *piece->phases;
    phases.block_re += skipped;
    phases.block_im += skipped;
    wfi_destination to = *piece;
    to.first_channel = begin;
    to.n_channels = end - begin;
    to.phases = &phases;
    channelizer->kernels->place(&to, (const float *)lowest, tiles);
}

/* Bins are numbered modulo the transform's length: a piece is one run of them, or two. */
static void place_bins(const wfi_channelizer *channelizer, const wfi_grid_piece *piece,
                       const wfi_destination *to, const fftwf_complex *bins, float *tiles)
{
    const int64_t n_fft = (int64_t)channelizer->transform->n_fft;
    const int64_t signed_bin = (to->conjugate ? -piece->first_bin : piece->first_bin) % n_fft;
    const size_t bin = (size_t)(signed_bin < 0 ? signed_bin + n_fft : signed_bin);
    const size_t before_wrap = to->conjugate ? bin + 1 : (size_t)n_fft - bin;
    const size_t n_first = piece->n_channels < before_wrap ? piece->n_channels : before_wrap;
    const size_t begin = piece->first_channel;
    const size_t end = begin + piece->n_channels;
    const size_t n_second = piece->n_channels - n_first;
    place_run(channelizer, to, begin, begin + n_first,
              bins + (to->conjugate ? bin + 1 - n_first : bin), tiles);
    if (n_second > 0)
        place_run(channelizer, to, begin + n_first, end,
                  bins + (to->conjugate ? (size_t)n_fft - n_second : 0), tiles);
}

void wfi_channelize_place(const wfi_channelizer *channelizer, const wfi_grid_stream *stream,
                          const wfi_grid_piece *piece, const wfi_alignment *alignment,
                          double band_first_hz, size_t n_streams, size_t row_stride,
                          wfi_spectra *spectra)
{
    const wfi_kernels *kernels = channelizer->kernels;
    double first_turns = 0;
    double step_turns = 0;
    wfi_align_channels(stream, piece, alignment, band_first_hz, channelizer->rotated, &first_turns,
                       &step_turns);
    const size_t in_tile = piece->first_channel % WFI_TILE_CHANNELS;
    kernels->phases(&spectra->phases, first_turns - (double)in_tile * step_turns, step_turns,
                    channelizer->splits ? 0.5 : 1.0, piece->n_channels + in_tile);
    const wfi_destination to = {
        .first_channel = piece->first_channel,
        .n_channels = piece->n_channels,
        .conjugate = wfi_channelize_runs_backwards(channelizer, stream),
        .phases = &spectra->phases,
        .row_stride = row_stride,
        .past_caches = channelizer->past_caches,
    };
    if (channelizer->splits) {
        kernels->split(&to, channelizer->transform->twiddle, n_streams,
                       (const float *const *)spectra->bins, spectra->tiles);
        return;
    }
    for (size_t i = 0; i < n_streams; i++)
        place_bins(channelizer, piece, &to, (const fftwf_complex *)spectra->bins[i],
                   spectra->tiles[i]);
}
