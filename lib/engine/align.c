/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Alignment of segments.
 *
 * A sample number is an integer since the recording's origin; only delays and fractions of a
 * sample are doubles. Phases are reduced in turns before they are rounded.
 */
#include "engine/align.h"

#include <math.h>

#include "base/turns.h"

void wfi_aligner_init(wfi_aligner *aligner, const wf_track *track, wf_instant slice_start,
                      wf_instant origin, int64_t rate_hz, size_t n_fft)
{
    const double rest = (slice_start.fraction - origin.fraction) * (double)rate_hz;
    *aligner = (wfi_aligner){
        .track = track,
        .slice_start = slice_start,
        .rate_hz = rate_hz,
        .n_fft = n_fft,
        .start_whole = (slice_start.second - origin.second) * rate_hz + (int64_t)floor(rest),
        .start_rest = rest - floor(rest),
    };
}

void wfi_align(const wfi_aligner *aligner, int64_t i_segment, wfi_alignment *out)
{
    const double rate_hz = (double)aligner->rate_hz;
    const int64_t offset = i_segment * (int64_t)aligner->n_fft;
    out->start = wf_instant_add_samples(aligner->slice_start, offset, aligner->rate_hz);
    const wf_instant mean =
        wf_instant_add(out->start, 0.5 * ((double)aligner->n_fft - 1.0) / rate_hz);
    wf_track_evaluate(aligner->track, mean, &out->tau_s, &out->rate_s_per_s);
    const double shift = aligner->start_rest + out->tau_s * rate_hz;
    const double nearest = floor(shift + 0.5);
    out->first_sample = aligner->start_whole + offset + (int64_t)nearest;
    out->fraction = shift - nearest;
}

void wfi_align_rotation(const wfi_grid_stream *stream, const wfi_alignment *alignment,
                        double *start_turns, double *step_turns)
{
    const double rate_hz = (double)stream->rate_hz;
    const double fringe = stream->rotation_hz * alignment->rate_s_per_s / rate_hz;
    const double mean_sample = alignment->fraction + 0.5 * ((double)stream->n_fft - 1.0);
    *start_turns = wfi_turns_reduce(-fringe * mean_sample);
    *step_turns = fringe - stream->residual_hz / rate_hz;
}

/* (zero_hz - band_first_hz) * t_s modulo 1, t_s since 2000: makes streams of other zero
 * frequencies meet in phase, their oscillators being in phase at whole seconds of whole hertz. */
static double oscillator_turns(double difference_hz, wf_instant start)
{
    const double part_hz = difference_hz - floor(difference_hz);
    return wfi_turns_product(part_hz, (double)start.second) +
           wfi_turns_product(difference_hz, start.fraction);
}

void wfi_align_channels(const wfi_grid_stream *stream, const wfi_grid_piece *piece,
                        const wfi_alignment *alignment, double band_first_hz, bool rotated,
                        double *first_turns, double *step_turns)
{
    const double fraction_s = alignment->fraction / (double)stream->rate_hz;
    double turns = wfi_turns_product(stream->zero_hz, alignment->tau_s);
    turns += piece->first_offset_hz * fraction_s;
    if (stream->zero_hz != band_first_hz)
        turns += oscillator_turns(stream->zero_hz - band_first_hz, alignment->start);
    if (!rotated) /* frozen at the mean time of the segment, which the samples miss by d */
        turns -= stream->rotation_hz * alignment->rate_s_per_s * fraction_s;
    *first_turns = wfi_turns_reduce(turns);
    *step_turns = alignment->fraction / (double)stream->n_fft;
}
