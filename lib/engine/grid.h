/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The channel grid: which stream fills which channels of which output band, and from which bin of
 * its transform. */
#ifndef WFI_ENGINE_GRID_H
#define WFI_ENGINE_GRID_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/engine.h>
#include <whitefringe/observation.h>
#include <whitefringe/recording.h>

/** A stream as the transform sees it. */
typedef struct wfi_grid_stream {
    size_t i_station;
    size_t i_recording;
    size_t i_thread;    /* index into the recording's threads */
    size_t i_exclusion; /* what the job excludes, as wf_recording_exclusion has it */
    uint32_t channel;
    wf_polarization polarization;
    wf_sample_format format;
    int64_t rate_hz;
    size_t n_fft;       /* samples a segment */
    double zero_hz;     /* sky frequency at zero baseband frequency */
    int sideband;       /* +1 or -1 */
    double rotation_hz; /* sky frequency at the middle of the recorded band */
    double residual_hz; /* of the channel grid against the transform's bins */
} wfi_grid_stream;

/** A stretch of channels of one band that one stream fills.
 *
 *  Channel first_channel + k takes bin first_bin + k of the stream's transform in the sense of the
 *  sky: bin b lies at zero_hz + residual_hz + b * channel width; b may be negative.
 */
typedef struct wfi_grid_piece {
    size_t i_stream;
    size_t i_band;
    size_t i_input; /* i_station * n_polarizations + index of the polarization */
    size_t first_channel;
    size_t n_channels;
    int64_t first_bin;
    double first_offset_hz; /* of first_channel from zero_hz, signed */
} wfi_grid_piece;

typedef struct wfi_grid {
    double channel_width_hz;
    size_t n_stations;
    size_t n_bands;
    size_t n_channels;
    wf_polarization polarizations[2];
    size_t n_polarizations;
    size_t n_inputs;          /* n_stations * n_polarizations */
    wfi_grid_stream *streams; /* [n_streams] all of the job, in its order */
    size_t n_streams;
    wfi_grid_piece *pieces; /* [n_pieces] by stream */
    size_t n_pieces;
    wf_span *spans; /* [n_spans] by band and channel */
    size_t n_spans;
    int *span_stream; /* [n_spans][n_inputs] the stream that fills it, or -1 */
} wfi_grid;

/** status  OK | FORMAT: see wf_plan_create | MEMORY */
wf_status wfi_grid_create(wfi_grid **out, const wf_observation *observation,
                          const wf_recording *const *recordings, wf_error *err);
void wfi_grid_destroy(wfi_grid *grid);

/** Index of a polarization among those of the products, or -1. */
int wfi_grid_polarization_index(const wfi_grid *grid, wf_polarization polarization);

#endif
