/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Before or after the FFT. */
#include "engine/rotation.h"

#include <math.h>

#include "base/turns.h"

double wfi_rotation_loss(double turns)
{
    const double x = WFI_RAD_PER_TURN * turns;
    return fabs(x) < 1e-8 ? 0.0 : 1.0 - sin(x) / x;
}

bool wfi_rotation_before_fft(const wf_correlation *correlation, const wfi_grid_stream *stream,
                             double largest_rate_s_per_s, double channel_width_hz, double *loss)
{
    const double segment_s = 1.0 / channel_width_hz;
    const double recorded_hz = (double)stream->rate_hz * (stream->format.is_complex ? 1.0 : 0.5);
    const double edge_hz = fabs(stream->rotation_hz) + recorded_hz / 2;
    const double loss_after = wfi_rotation_loss(edge_hz * largest_rate_s_per_s * segment_s);
    const double loss_before =
        wfi_rotation_loss(recorded_hz / 2 * largest_rate_s_per_s * segment_s);
    const bool before = stream->residual_hz != 0.0 ||
                        correlation->rotation == WF_ROTATION_BEFORE_FFT ||
                        (correlation->rotation == WF_ROTATION_PLANNED &&
                         loss_after > correlation->rotation_loss_limit);
    *loss = before ? loss_before : loss_after;
    return before;
}
