/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bundles: streams that share their phases. */
#include "engine/bundles.h"

#include "base/memory.h"
#include "base/status.h"

/* Pieces stand in the order of their streams. */
static void index_pieces(wfi_bundles *bundles, const wfi_grid *grid)
{
    size_t piece = 0;
    for (size_t k = 0; k < grid->n_streams; k++) {
        bundles->first_piece[k] = piece;
        while (piece < grid->n_pieces && grid->pieces[piece].i_stream == k)
            piece++;
    }
    bundles->first_piece[grid->n_streams] = piece;
}

static size_t n_pieces_of(const wfi_bundles *bundles, size_t i_stream)
{
    return bundles->first_piece[i_stream + 1] - bundles->first_piece[i_stream];
}

static bool same_piece(const wfi_grid_piece *a, const wfi_grid_piece *b)
{
    return a->i_band == b->i_band && a->first_channel == b->first_channel &&
           a->n_channels == b->n_channels && a->first_bin == b->first_bin &&
           a->first_offset_hz == b->first_offset_hz;
}

static bool lie_alike(const wfi_bundles *bundles, const wfi_grid *grid, const bool *rotated,
                      size_t i, size_t j)
{
    const wfi_grid_stream *a = &grid->streams[i];
    const wfi_grid_stream *b = &grid->streams[j];
    const size_t n_pieces = n_pieces_of(bundles, i);
    if (a->zero_hz != b->zero_hz || a->sideband != b->sideband || a->n_fft != b->n_fft ||
        a->format.is_complex != b->format.is_complex || a->rotation_hz != b->rotation_hz ||
        a->residual_hz != b->residual_hz || rotated[i] != rotated[j] ||
        n_pieces != n_pieces_of(bundles, j))
        return false;
    for (size_t p = 0; p < n_pieces; p++) {
        if (!same_piece(&grid->pieces[bundles->first_piece[i] + p],
                        &grid->pieces[bundles->first_piece[j] + p]))
            return false;
    }
    return true;
}

static size_t larger(size_t a, size_t b)
{
    return a > b ? a : b;
}

/* All streams from `first` on that lie like it and have no bundle yet. */
static void open_bundle(wfi_bundles *bundles, const wfi_grid *grid, const bool *rotated,
                        size_t first, bool *taken, size_t *n_taken)
{
    wfi_bundle *bundle = &bundles->bundles[bundles->n_bundles++];
    const size_t begin = *n_taken;
    for (size_t k = first; k < grid->n_streams; k++) {
        if (taken[k] || grid->streams[k].i_recording != grid->streams[first].i_recording ||
            !wfi_bundles_use(bundles, k) || !lie_alike(bundles, grid, rotated, first, k))
            continue;
        taken[k] = true;
        bundles->streams[(*n_taken)++] = k;
    }
    *bundle = (wfi_bundle){
        .i_recording = grid->streams[first].i_recording,
        .streams = bundles->streams + begin,
        .n_streams = *n_taken - begin,
        .n_pieces = n_pieces_of(bundles, first),
    };
    bundles->most_streams = larger(bundles->most_streams, bundle->n_streams);
    bundles->most_pieces = larger(bundles->most_pieces, bundle->n_pieces);
}

wf_status wfi_bundles_create(wfi_bundles *bundles, const wfi_grid *grid, const bool *rotated,
                             size_t n_recordings, wf_error *err)
{
    static const char what[] = "the plan";
    const size_t n = grid->n_streams;
    bool *taken = NULL;
    WFI_TRY(wfi_allocate(&bundles->bundles, n, sizeof *bundles->bundles, what, err));
    WFI_TRY(wfi_allocate(&bundles->streams, n, sizeof *bundles->streams, what, err));
    WFI_TRY(wfi_allocate(&bundles->first_piece, n + 1, sizeof *bundles->first_piece, what, err));
    WFI_TRY(wfi_allocate(&taken, n, sizeof *taken, what, err));
    index_pieces(bundles, grid);
    size_t n_taken = 0;
    for (size_t r = 0; r < n_recordings; r++) {
        for (size_t k = 0; k < n; k++) {
            if (grid->streams[k].i_recording == r && !taken[k] && wfi_bundles_use(bundles, k))
                open_bundle(bundles, grid, rotated, k, taken, &n_taken);
        }
    }
    wfi_free(taken);
    return WF_OK;
}

void wfi_bundles_destroy(wfi_bundles *bundles)
{
    wfi_free(bundles->bundles);
    wfi_free(bundles->streams);
    wfi_free(bundles->first_piece);
    *bundles = (wfi_bundles){0};
}
