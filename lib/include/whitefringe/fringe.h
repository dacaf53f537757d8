/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the visibilities show: the fringe in residual delay and rate. */
#ifndef WHITEFRINGE_FRINGE_H
#define WHITEFRINGE_FRINGE_H

#include <complex.h>
#include <stddef.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>
#include <whitefringe/visibility.h>

/** Visibilities of one baseline, band and product over a stretch of time.
 *
 *  visibility  [n_times][n_channels], house sense
 *  weight      [n_times]; 0, negative or NaN: nothing valid, the visibilities are not looked at
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
 *
 *  The visibilities are padded with zeros, twofold or more, so that a fringe never falls between
 *  two cells. The delays span 1 / channel width, the rates 1 / (interval * sky frequency). An axis
 *  with nothing to resolve it (one channel, one integration) is the single value 0.
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
 *
 *  The noise is taken from the surface itself: once the fringe is subtracted, its amplitudes
 *  follow Rayleigh's distribution, and their median gives the standard deviation of one component.
 *  Of noise alone the highest point exceeds an snr of x with a probability of about
 *  n_times * n_channels * pi/6 * (x^2 - 1) * exp(-x^2/2). The errors suppose one fringe, of
 * constant amplitude over band and stretch.
 *
 *  source  Thompson, Moran, Swenson 2017, 3rd ed., sections 9.3 and 9.8: phase error 1 / snr,
 *          delay error 1 / (2 pi snr f_rms), rate error 1 / (2 pi nu snr t_rms), where f_rms and
 *          t_rms are the spreads of the channels' frequencies and of the integrations' times
 */
typedef struct wf_fringe_peak {
    double delay_s;
    double delay_error_s; /* infinite with one channel */
    double rate_s_per_s;
    double rate_error_s_per_s; /* infinite with one integration */
    double amplitude;          /* correlation coefficient */
    double phase_rad;          /* at the middle of band and stretch, in [-pi, pi] */
    double snr;                /* amplitude over the standard deviation of one component */
    double false_alarm;        /* probability that noise alone reaches this snr in the window */
} wf_fringe_peak;

/** Limit on the cells of one surface: its arrays then take half a gigabyte. */
#define WF_FRINGE_CELLS_MAX ((size_t)1 << 25)

/** Find the fringe of one baseline, band and product.
 *
 *  returned  surface  to be destroyed by the caller; NULL on failure; give NULL if not wanted
 *            peak     the fringe, found by maximising the sum of all visibilities, each turned
 *                     back by 2 pi nu (delay + rate * t), around the surface's highest cell
 *  status    OK | ARGUMENT: no channel or integration, a width or frequency that is not positive
 *            | RANGE: fewer than 4 valid visibilities show no fringe with its noise
 *            | FORMAT: a valid visibility that is not a number
 *            | UNSUPPORTED: more than WF_FRINGE_CELLS_MAX cells | MEMORY
 *  threads   any number
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_transform(wf_fringe_surface **surface,
                                                   wf_fringe_peak *peak,
                                                   const wf_fringe_input *input, wf_error *err);
WF_API void wf_fringe_surface_destroy(wf_fringe_surface *surface);

#endif
