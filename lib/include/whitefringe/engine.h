/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The FX engine: planned once, executed once a slice.
 *
 *  Streams of any sample rate, sideband and sampling meet on one channel grid: a segment lasts
 *  1 / channel width for all of them, and a channel of an output band takes the transform's bin
 *  that lies at its sky frequency.
 */
#ifndef WHITEFRINGE_ENGINE_H
#define WHITEFRINGE_ENGINE_H

#include <complex.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/delay.h>
#include <whitefringe/observation.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

typedef struct wf_plan wf_plan;
typedef struct wf_worker wf_worker;

/** Baselines in order: (0,0) (0,1) ... (0,n-1) (1,1) (1,2) ...; an autocorrelation is i = j. */
typedef struct wf_baseline {
    size_t i_station;
    size_t j_station;
} wf_baseline;

/** Shape of what a plan yields. */
typedef struct wf_shape {
    size_t n_stations;
    size_t n_baselines; /* n_stations * (n_stations + 1) / 2 */
    size_t n_bands;
    size_t n_channels;
    size_t n_products;
    size_t n_streams; /* of all recordings, in the job's order */
    size_t n_spans;   /* ranges of channels that one stream of each input fills; >= n_bands */
} wf_shape;

/** A range of channels of one band within which no input changes its stream. */
typedef struct wf_span {
    size_t i_band;
    size_t first_channel;
    size_t n_channels;
} wf_span;

/** Choices that leave the observation as it is; {0}: the best for this processor. */
typedef struct wf_plan_options {
    const char *kernels; /* "plain", "avx2", "avx512"; NULL: the fastest that runs here */
} wf_plan_options;

/** given     recordings  [n_recordings] open, in the job's order
 *            largest_rate_s_per_s  [n_stations] of the tracks that will be used
 *            options  or NULL
 *  status    OK | FORMAT: a stream that no recording holds, a band that no stream covers, a
 *            sample rate that the channel width does not divide; station and band named
 *            | UNSUPPORTED: kernels that do not run here | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_plan_create(wf_plan **out, const wf_observation *observation,
                                              const wf_recording *const *recordings,
                                              const double *largest_rate_s_per_s,
                                              const wf_plan_options *options, wf_error *err);
WF_API void wf_plan_destroy(wf_plan *plan);

WF_API const wf_shape *wf_plan_shape(const wf_plan *plan);
WF_API const wf_span *wf_plan_span(const wf_plan *plan, size_t i_span);
WF_API wf_baseline wf_plan_baseline(const wf_plan *plan, size_t i_baseline);

/** What the plan decided, as lines of text for people and for the output's history.
 *
 *  returned  text      at most `capacity` bytes with the terminating zero
 *  returns             length of the whole text
 */
WF_API size_t wf_plan_describe(const wf_plan *plan, char *text, size_t capacity);

/** Largest loss of amplitude to fringe rotation that the plan allows in, a fraction. */
WF_API double wf_plan_rotation_loss(const wf_plan *plan);

/** One integration of one scan. */
typedef struct wf_slice {
    size_t i_scan;
    wf_instant start;              /* geocentre time */
    int64_t n_segments;            /* length = n_segments / channel width */
    const wf_track *const *tracks; /* [n_stations]; NULL: the station takes no part */
} wf_slice;

/** Sums over one slice or a stretch of it, not yet normalised.
 *
 *  cross          [n_baselines][n_products][n_bands][n_channels], sum of X_i conj(X_j)
 *  common_valid   [n_baselines][n_products][n_spans], sum over segments of the fraction of
 *                 samples valid in both
 *  power          [n_streams], sum of |x|^2 over the valid samples
 *  valid_samples  [n_streams], their number
 */
typedef struct wf_partial {
    double complex *cross;
    double *common_valid;
    double *power;
    double *valid_samples;
} wf_partial;

WF_API WF_MUST_CHECK wf_status wf_partial_create(wf_partial **out, const wf_plan *plan,
                                                 wf_error *err);
WF_API void wf_partial_destroy(wf_partial *partial);

WF_API void wf_partial_clear(wf_partial *partial, const wf_plan *plan);
/** total += part. Stretches are added in their order: the sum is then the same bit for bit,
 *  whichever thread worked which. */
WF_API void wf_partial_add(wf_partial *total, const wf_plan *plan, const wf_partial *part);

/** A worker holds the scratch and the windows of one thread. */
WF_API WF_MUST_CHECK wf_status wf_worker_create(wf_worker **out, const wf_plan *plan,
                                                wf_error *err);
WF_API void wf_worker_destroy(wf_worker *worker);

/** A slice is worked in stretches of a length that the plan fixes: how many a slice has. */
WF_API int64_t wf_plan_n_stretches(const wf_plan *plan, int64_t n_segments);

/** Correlate one stretch of a slice; `out` is overwritten.
 *
 *  status   OK | IO: a recording could not be read; the message names it
 *  threads  any number on one plan, each with its own worker and partial
 */
WF_API WF_MUST_CHECK wf_status wf_plan_execute(const wf_plan *plan, wf_worker *worker,
                                               const wf_slice *slice, int64_t i_stretch,
                                               wf_partial *out, wf_error *err);

/** Correlate a whole slice on one thread: its stretches, added in their order.
 *
 *  given     part   scratch
 *  returned  total  overwritten
 */
WF_API WF_MUST_CHECK wf_status wf_plan_execute_slice(const wf_plan *plan, wf_worker *worker,
                                                     const wf_slice *slice, wf_partial *part,
                                                     wf_partial *total, wf_error *err);

/** Name of the kernels that the plan runs. */
WF_API const char *wf_plan_kernels(const wf_plan *plan);

/** How the stream that fills a span for one station and polarization was recorded. */
typedef struct wf_span_input {
    int i_stream; /* -1: nothing was recorded there */
    size_t n_fft; /* samples a segment */
    wf_sample_format format;
} wf_span_input;

WF_API wf_span_input wf_plan_span_input(const wf_plan *plan, size_t i_span, size_t i_station,
                                        wf_polarization polarization);

#endif
