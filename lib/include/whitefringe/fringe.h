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
 *  n_times * n_channels * pi/6 * (x^2 - 1) * exp(-x^2/2), somewhat more where few visibilities tell
 *  the noise. The errors suppose one fringe, of constant amplitude over band and stretch.
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

/** Weighted mean over time, channel by channel, a rate taken out at each channel's own frequency.
 *
 *  returned  mean  [n_channels], phases those at the middle of the stretch; 0 where nothing is
 *                  valid
 */
WF_API void wf_fringe_spectrum(double complex *mean, const wf_fringe_input *input,
                               double rate_s_per_s);

/** The amplitude at chosen delays and rates: the surface in any detail.
 *
 *  returned  amplitude  [n_rates][n_delays], correlation coefficient; 0 where nothing is valid
 *  status    OK | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_evaluate(double *amplitude, const wf_fringe_input *input,
                                                  const double *delay_s, size_t n_delays,
                                                  const double *rate_s_per_s, size_t n_rates,
                                                  wf_error *err);

/** A stretch of a FITS-IDI file: integrations of one source, one after the other without a gap. */
typedef struct wf_stretch {
    size_t i_source;
    wf_instant start; /* of the first integration */
    double interval_s;
    size_t n_times;
    size_t i_first; /* number of the first integration within the file */
} wf_stretch;

/** All stretches of a file. Very long ones are cut into equal parts, so that the visibilities of
 *  one baseline stay under 256 MiB and its surfaces under WF_FRINGE_CELLS_MAX. */
typedef struct wf_stretches wf_stretches;

/** given   reader  stays the caller's, and must live as long as the stretches
 *  status  OK | UNSUPPORTED: the rows are not in order of time | as wf_fits_idi_read | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_stretches_create(wf_stretches **out, wf_fits_idi_reader *reader,
                                                   wf_error *err);
WF_API void wf_stretches_destroy(wf_stretches *stretches);
WF_API size_t wf_stretches_n(const wf_stretches *stretches);
/** Borrowed; lives as long as the stretches. */
WF_API const wf_stretch *wf_stretches_get(const wf_stretches *stretches, size_t i_stretch);

/** One baseline's visibilities over one stretch.
 *
 *  visibility  [n_bands][n_products][n_times][n_channels], house sense
 *  weight      [n_bands][n_products][n_times]; 0 where the file has no row
 */
typedef struct wf_stretch_data {
    const wf_fits_idi_info *info; /* the reader's */
    const wf_stretch *stretch;
    size_t n_rows; /* integrations of which the file has a row */
    float complex *visibility;
    double *weight;
} wf_stretch_data;

/** given   i_station <= j_station; equal ones give the autocorrelation
 *  status  OK | as wf_fits_idi_read | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_stretch_read(wf_stretch_data **out, const wf_stretches *stretches,
                                               size_t i_stretch, size_t i_station, size_t j_station,
                                               wf_error *err);
WF_API void wf_stretch_data_destroy(wf_stretch_data *data);

/** The part of one band and product; borrows from the data. */
WF_API wf_fringe_input wf_stretch_input(const wf_stretch_data *data, size_t i_band,
                                        size_t i_product);

#endif
