/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the visibilities show: the fringe in residual delay and rate. */
#ifndef WHITEFRINGE_FRINGE_H
#define WHITEFRINGE_FRINGE_H

#include <complex.h>
#include <stddef.h>
#include <whitefringe/status.h>

/** Visibilities of one baseline, band and product over a stretch of time.
 *
 *  visibility  [n_times][n_channels], house sense
 *  weight      [n_times]; 0: nothing valid
 */
typedef struct wf_fringe_input {
    const float complex *visibility;
    const double *weight;
    size_t n_times;
    size_t n_channels;
    double interval_s; /* from one integration to the next */
    double channel_width_hz;
    double first_channel_hz;
} wf_fringe_input;

/** The amplitude over residual delay and residual rate.
 *
 *  amplitude  [n_rates][n_delays], correlation coefficient; both axes ascend through zero
 */
typedef struct wf_fringe_surface {
    size_t n_rates;
    size_t n_delays;
    double *amplitude;
    double *rate_s_per_s;
    double *delay_s;
} wf_fringe_surface;

/** The highest point of the surface, interpolated.
 *
 *  Residual delay of the baseline: that of the second station minus that of the first would be
 *  -delay_s; delay_s = tau_i - tau_j, true minus model.
 */
typedef struct wf_fringe_peak {
    double delay_s;
    double delay_error_s;
    double rate_s_per_s;
    double rate_error_s_per_s;
    double amplitude; /* correlation coefficient */
    double phase_rad; /* at the middle of band and stretch */
    double snr;       /* amplitude over the standard deviation of one component */
} wf_fringe_peak;

WF_API WF_MUST_CHECK wf_status wf_fringe_transform(wf_fringe_surface **surface,
                                                   wf_fringe_peak *peak,
                                                   const wf_fringe_input *input, wf_error *err);
WF_API void wf_fringe_surface_destroy(wf_fringe_surface *surface);

#endif
