/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Before or after the FFT: where the fringe is rotated, by the loss that it costs. */
#ifndef WFI_ENGINE_ROTATION_H
#define WFI_ENGINE_ROTATION_H

#include <stdbool.h>
#include <whitefringe/observation.h>

#include "engine/grid.h"

/** Loss of amplitude when a phase that turns by `turns` over a segment in each of two streams, in
 *  opposite sense at worst, is held constant: 1 - sinc(2 turns).
 *
 *  source  Thompson, Moran, Swenson 2017, Interferometry and Synthesis in Radio Astronomy, 3rd
 *          ed., section 9.7: a phase frozen over t at rate r keeps sinc(r t)
 */
double wfi_rotation_loss(double turns);

/** Decide for one stream, and say what loss is left.
 *
 *  Rotation after the FFT costs nothing in time; the phase is then frozen over a segment. Before
 *  the FFT only the difference between a channel's own fringe rate and that at the band's middle
 *  is left. A stream that is off the channel grid has to be rotated in any case.
 */
bool wfi_rotation_before_fft(const wf_correlation *correlation, const wfi_grid_stream *stream,
                             double largest_rate_s_per_s, double channel_width_hz, double *loss);

#endif
