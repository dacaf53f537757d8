/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringe of a baseline over all its bands, what it says of the stations, and closures.
 *
 *  Signs: `delay_s` of baseline i-j is tau_i - tau_j, true minus model; the visibilities of a
 *  fringe have the phase
 *
 *      phase_rad - 2 pi ((nu - reference_hz) delay_s + nu rate_s_per_s t)
 *
 *  at sky frequency nu and at time t from the middle of the stretch. */
#ifndef WHITEFRINGE_FRINGE_FIT_H
#define WHITEFRINGE_FRINGE_FIT_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/fringe.h>
#include <whitefringe/status.h>

/** Where to look: centre -+ half-width, edges included. A half-width of 0: all that channels
 *  (1 / (2 channel width)) or integrations (1 / (2 interval * frequency)) resolve. */
typedef struct wf_fringe_window {
    double delay_s;
    double rate_s_per_s;
    double delay_centre_s;
    double rate_centre_s_per_s;
} wf_fringe_window;

/** The fringe of one baseline and product over its bands.
 *
 *  Errors are those of one fringe of the same amplitude in all bands at the snr found, from the
 *  Fisher matrix of phase, delay and rate: Cramer and Rao's bound. Where nothing resolves an axis
 *  (one frequency, one integration), its error is infinite.
 */
typedef struct wf_fringe_fit {
    double delay_s; /* multi-band: from the phases over the whole span */
    double delay_error_s;
    double single_band_delay_s; /* common slope of the bands, whatever their phases */
    double single_band_delay_error_s;
    double delay_ambiguity_s; /* the fringe comes again almost as high at delays so far apart:
                                 1 / greatest common spacing of the bands; 0 with one band */
    double rate_s_per_s;
    double rate_error_s_per_s;
    double amplitude; /* correlation coefficient */
    double phase_rad; /* at reference_hz, middle of the stretch, in [-pi, pi] */
    double phase_error_rad;
    double reference_hz;   /* the bands' centroid by weight */
    double snr;            /* amplitude over the standard deviation of one component */
    double false_alarm;    /* probability that noise alone reaches this anywhere in the window */
    double n_cells;        /* independent cells of the window */
    double band_coherence; /* |sum over bands| over sum of |bands|, 1 where all bands line up */
} wf_fringe_fit;

/** Find the fringe of several bands in a window, all bands in phase.
 *
 *  The amplitude of the sum over all bands, channels and integrations, each turned back by the
 *  trial delay and rate, is searched over the whole window at the resolution of the whole span,
 *  and maximised. Bands may lie anywhere: gaps, overlaps, different widths and numbers of channels.
 *  Weights are inverse variances: an input's weight (valid fraction) times its channel width.
 *  Rates belong to each channel's own frequency, so that a fringe does not fade over wide bands and
 *  long stretches.
 *
 *  given     inputs   [n_inputs], the bands of one product: the same n_times and interval. A band
 *                     with nothing valid counts for nothing
 *  returned  fit      zeroed on failure
 *            peaks    [n_inputs] or NULL: each band's own fringe, climbed to from the fit, so
 *                     that a weak band is not lost in its noise; phase at the band's middle;
 *                     false_alarm is that of noise within a cell. snr 0 where nothing is valid
 *  status    OK | ARGUMENT: no input, widths or frequencies that are not positive, bands of other
 *            times, a half-width that is negative or not a number | RANGE: too few valid
 *            visibilities; a window beyond what channels or integrations resolve (the message says
 *            what they would have to be) | FORMAT: a valid visibility is not a number | MEMORY
 *  cost      one 2-D transform a band, padded twofold along both axes of the window alone, and some
 *            tens of passes over the visibilities, more on noise: two bands of 16384 channels x 64
 *            integrations take 0.3 s with a fringe, 0.4 to 0.7 s without
 *  memory    up to 128 MiB beside the visibilities, or twice those of one band
 *  threads   any number
 *  source    errors: Thompson, Moran, Swenson 2017, 3rd ed., sections 9.3, 9.8; false_alarm: the
 *            expected number of peaks in the window, edges included (Euler characteristic of
 *            chi-squared fields: Worsley 1994, Adv. Appl. Prob. 26, 13; Adler and Taylor 2007, ch.
 *            15), over how many come together where bands leave gaps (Aldous 1989), for a noise
 *            that is itself estimated. Stated and counted agree from windows of less than a cell to
 *            whole ones (tests/standards/fringe_statistics_test.c)
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_fit_bands(wf_fringe_fit *fit, wf_fringe_peak *peaks,
                                                   const wf_fringe_input *inputs, size_t n_inputs,
                                                   const wf_fringe_window *window, wf_error *err);

/** The same where the phases between bands are unknown (oscillators and filters of each band): the
 *  sum of the bands' powers is searched, delay and rate common, phases free.
 *
 *  snr is sqrt(sum of the bands' snr^2 - 2 (n - 1)): what the coherent fit would reach if the
 *  phases were known, less what n free phases gain of noise. false_alarm is that of chi-squared
 *  with 2 n degrees of freedom; whoever takes the better of both fits doubles it. delay_s =
 *  single_band_delay_s, delay_ambiguity_s = 0, amplitude is the bands' mean. phase_rad is that of
 *  the bands' sum and tells little (phase_error_rad is infinite), and band_coherence is 1 only if
 *  the phases happen to be equal; peaks[].phase_rad are the phases to take out before a coherent
 *  fit.
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_fit_bands_free_phases(
    wf_fringe_fit *fit, wf_fringe_peak *peaks, const wf_fringe_input *inputs, size_t n_inputs,
    const wf_fringe_window *window, wf_error *err);

/** One baseline's measurement of what stations have: value = x_i - x_j (delay, rate; phases once
 *  they are free of turns). Several of one baseline are welcome. */
typedef struct wf_fringe_measure {
    size_t i_station;
    size_t j_station;
    double value;
    double error;  /* one sigma, > 0; infinite: nothing was measured, and the value is not used */
    bool excluded; /* not used; its residual is given all the same */
} wf_fringe_measure;

/** A station's value against the reference. */
typedef struct wf_station_value {
    bool solved; /* connected to the reference; else value and error are 0 */
    double value;
    double error;  /* from the covariance, for the measures' errors as given; 0 for the reference */
    size_t n_used; /* measures of this station in the solution */
} wf_station_value;

/** Weighted least squares for all stations at once, the reference held at 0.
 *
 *  returned  stations       [n_stations]
 *            residuals      [n_measures] or NULL: (measured - solution) / error; NAN where a
 *                           station is not solved
 *            reduced_chi2   NULL if not wanted; per degree of freedom, NAN without any
 *  status    OK | ARGUMENT: stations out of range or equal, an error that is not positive, a value
 *            that is not a number | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_solve(wf_station_value *stations, double *residuals,
                                               double *reduced_chi2,
                                               const wf_fringe_measure *measures, size_t n_measures,
                                               size_t n_stations, size_t i_reference,
                                               wf_error *err);

/** Exclude measures that the others contradict, the worst first, each time solved anew.
 *
 *  A measure is contradicted where its residual exceeds limit_sigma of the residual's own standard
 *  deviation (that of the measure, less what the solution took up). Where two explain the
 *  contradiction alike (a lone triangle), none is excluded: reduced chi-squared tells of it.
 *
 *  returned  n_excluded  how many were excluded here
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_exclude_outliers(wf_fringe_measure *measures,
                                                          size_t *n_excluded, size_t n_measures,
                                                          size_t n_stations, size_t i_reference,
                                                          double limit_sigma, wf_error *err);

/** value_ij + value_jk - value_ik of stations i < j < k: 0 but for noise and structure of the
 *  source, whatever the stations' clocks. */
typedef struct wf_closure {
    size_t i_station;
    size_t j_station;
    size_t k_station;
    double value;
    double error;
} wf_closure;

/** Triangles of n stations. */
#define WF_CLOSURES_OF(n_stations)                                                                 \
    ((n_stations) < 3 ? 0 : (n_stations) * ((n_stations)-1) * ((n_stations)-2) / 6)

/** Closures of all triangles whose three baselines are measured.
 *
 *  given     measures    at most one of a baseline that counts, either way round; phases of one
 *                        frequency: phase_rad - 2 pi (that - reference_hz) delay_s
 *            period      2 pi for phases, an ambiguity for delays: closures are brought into
 *                        [-period/2, period/2]; 0: taken as they are
 *  returned  closures    room for WF_CLOSURES_OF(n_stations), i slowest
 *            n_closures  found
 *  status    OK | ARGUMENT: as wf_fringe_solve, or two measures of one baseline | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_closures(wf_closure *closures, size_t *n_closures,
                                                  const wf_fringe_measure *measures,
                                                  size_t n_measures, size_t n_stations,
                                                  double period, wf_error *err);

#endif
