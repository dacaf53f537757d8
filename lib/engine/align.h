/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Alignment: which samples of a recording belong to a segment of geocentre time, and the phases
 * that bring them onto it. The equations stand in DEVELOPERS.md, "Arithmetic of the engine". */
#ifndef WFI_ENGINE_ALIGN_H
#define WFI_ENGINE_ALIGN_H

#include <stdint.h>
#include <whitefringe/delay.h>
#include <whitefringe/time.h>

#include "engine/grid.h"

/** Where the segments of one slice lie in one recording, delay left out. */
typedef struct wfi_aligner {
    const wf_track *track;
    wf_instant slice_start;
    int64_t rate_hz;
    size_t n_fft;
    int64_t start_whole; /* (slice start - origin) * rate, whole samples */
    double start_rest;   /* and the fraction of a sample */
} wfi_aligner;

void wfi_aligner_init(wfi_aligner *aligner, const wf_track *track, wf_instant slice_start,
                      wf_instant origin, int64_t rate_hz, size_t n_fft);

/** One segment of one recording.
 *
 *  first_sample  n0, the nearest whole sample
 *  fraction      d, in samples, in [-1/2, 1/2]: the segment begins at n0 + d
 *  tau_s, rate   of the track at the segment's mean time
 *  start         t_s, geocentre time of the segment's begin
 */
typedef struct wfi_alignment {
    int64_t first_sample;
    double fraction;
    double tau_s;
    double rate_s_per_s;
    wf_instant start;
} wfi_alignment;

void wfi_align(const wfi_aligner *aligner, int64_t i_segment, wfi_alignment *out);

/** Phase of a stream's samples: turns at sample 0 and per sample, to be applied before the FFT. */
void wfi_align_rotation(const wfi_grid_stream *stream, const wfi_alignment *alignment,
                        double *start_turns, double *step_turns);

/** Phase of a piece's channels: turns at its first channel and per channel, to be applied after
 *  the FFT.
 *
 *  given  band_first_hz  sky frequency of the band's channel 0
 *         rotated        the samples were rotated before the FFT
 */
void wfi_align_channels(const wfi_grid_stream *stream, const wfi_grid_piece *piece,
                        const wfi_alignment *alignment, double band_first_hz, bool rotated,
                        double *first_turns, double *step_turns);

#endif
