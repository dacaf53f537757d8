/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How stable the recordings kept their phase: coherence, Allan deviation, events.
 *
 * The way of the data: visibilities of a stretch -> wf_fringe_series (one complex number an
 * integration) -> wf_coherence; -> wf_fringe_phase (unwrapped) -> wf_allan, wf_phase_events. Series
 * and phase are plain structs: whoever has others' phases fills one in.
 *
 * All functions may be called from any number of threads; none keeps state. */
#ifndef WHITEFRINGE_STABILITY_H
#define WHITEFRINGE_STABILITY_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/fringe.h>
#include <whitefringe/status.h>

/** The fringe of one baseline in time, residual delay and rate taken out.
 *
 *  fringe  [n_times] correlation coefficient; 0 where nothing is valid
 *  sigma   [n_times] standard deviation of one component by thermal noise; infinite where nothing
 *          is valid. The fringe is then not looked at.
 */
typedef struct wf_fringe_series {
    size_t n_times;
    double interval_s;
    double frequency_hz; /* sky frequency whose phase it is */
    double complex *fringe;
    double *sigma;
} wf_fringe_series;

/** Sum visibilities over channels and bands.
 *
 *  Bands are turned to one phase before they are added, found from the products of a band with the
 *  others, integration by integration: phases that a band's electronics add do not matter, and
 *  wander of the fringe does not blur them. They are weighted by their thermal noise, which is
 *  measured band by band where neither band-pass nor wander reach (as in wf_fringe_peak).
 *
 *  given     inputs        [n_inputs] bands of one product of one baseline, same times, at
 *                          frequencies so near that a delay turns them alike: one receiver's
 *            delay_s       residual delay within a band, tau_i - tau_j: single_band_delay_s of a
 *                          wf_fringe_fit
 *            rate_s_per_s  residual rate; the phase at the middle of the stretch is kept
 *  returned  out           frequency_hz is the bands' mean, weighted as they are; to be destroyed
 *                          by the caller, NULL on failure
 *  status    OK | ARGUMENT: no input, inputs of unlike times, sizes or widths that are not positive
 *            | FORMAT: a valid visibility that is not a number
 *            | RANGE: a band of fewer than 4 channels, whose noise cannot be told from wander (fill
 *            in a series with the noise of theory, 1/sqrt(2 bandwidth interval)), or fewer than 4
 *            valid integrations
 *            | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_series_create(wf_fringe_series **out,
                                                       const wf_fringe_input *inputs,
                                                       size_t n_inputs, double delay_s,
                                                       double rate_s_per_s, wf_error *err);

/** Mean of every n integrations, weighted by their noise; a rest at the end is left out. For
 *  fringes too weak to show in one integration.
 *
 *  status  OK | ARGUMENT: n is 0 or above n_times | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_series_average(wf_fringe_series **out,
                                                        const wf_fringe_series *series, size_t n,
                                                        wf_error *err);
WF_API void wf_fringe_series_destroy(wf_fringe_series *series);

/** Coherence over one integration time.
 *
 *  squared         mean square coherence <|mean over T of fringe|^2> / <|fringe|^2>, free of
 *                  thermal noise: without bias, so it may be negative
 *  coherence       its root, 0 where it is negative
 *  error           standard deviation of the coherence by thermal noise: of this stretch's own
 *  squared_error   that of `squared`
 *  sampling_error  standard error of the coherence from the scatter between segments: how far
 *                  another stretch of the same weather may differ; infinite with fewer than 4
 */
typedef struct wf_coherence_point {
    double time_s;
    double coherence;
    double error;
    double squared;
    double squared_error;
    double sampling_error;
    size_t n_segments; /* that do not overlap, within the stretch */
} wf_coherence_point;

/** Coherence against integration time, from one integration (1 by definition) to the stretch.
 *
 *  points     [n_points] four an octave
 *  amplitude  root mean square of the fringe's modulus without noise
 *  snr        of one integration: amplitude over the noise of one component
 */
typedef struct wf_coherence {
    size_t n_points;
    wf_coherence_point *points;
    double amplitude;
    double snr;
} wf_coherence;

/** Measure the coherence.
 *
 *  The square of a segment's mean holds products of unlike integrations, which thermal noise leaves
 *  alone in the mean, and of each with itself, which it raises: the former are averaged over all
 *  segments, overlapping, the latter replaced by the amplitude's square less the noise. So holes in
 *  the data do no harm.
 *
 *  status    OK | ARGUMENT: no integration | RANGE: fewer than 4 valid integrations, or the fringe
 *            is no 3 sigma above the noise of all integrations taken one by one: average first
 *            | MEMORY
 *  source    Thompson, Moran, Swenson 2017, 3rd ed., section 9.5 (definition)
 */
WF_API WF_MUST_CHECK wf_status wf_coherence_measure(wf_coherence **out,
                                                    const wf_fringe_series *series, wf_error *err);
WF_API void wf_coherence_destroy(wf_coherence *coherence);

/** Time at which the coherence first falls below a level, s; interpolated in the time's logarithm;
 *  infinite where it does not within the stretch.
 *
 *  given  level  The trade uses several (common practice): 0.9, a tenth of the amplitude lost, to
 *                choose an integration time; sqrt(1 - 1/e) = 0.795; exp(-1/2) = 0.607, what phases
 *                of 1 rad rms leave.
 */
WF_API double wf_coherence_time_s(const wf_coherence *coherence, double level);

/** Root of the mean square coherence of white frequency noise: sqrt(2 (e^-a + a - 1)) / a with
 *  a = (2 pi frequency_hz sigma_y(1 s))^2 time_s / 2.
 *
 *  given   sigma_y_1s  Allan deviation at 1 s: of a baseline, the root of its stations' sum of
 *                      squares
 *  source  Thompson, Moran, Swenson 2017, 3rd ed., section 9.5: <C^2(T)> = 2/T integral
 *          (1 - t/T) exp(-D(t)/2) dt
 */
WF_API double wf_coherence_white_frequency(double time_s, double frequency_hz, double sigma_y_1s);

/** The phase of a fringe in time, without turns.
 *
 *  phase_rad       [n_times] unwrapped; NaN where nothing is valid
 *  sigma_rad       [n_times] thermal noise, 1 / snr with the stretch's mean amplitude; infinite
 *                  where nothing is valid; NULL: not known
 *  expected_slips  number of turns expected to be wrong from one block to the next, by the scatter
 *                  of the blocks' steps and by their noise; above 0.01 the phase is not to be
 *                  trusted over long times
 *  n_smoothed      integrations in a block: so many are averaged to follow the turns
 */
typedef struct wf_fringe_phase {
    size_t n_times;
    double interval_s;
    double frequency_hz;
    double *phase_rad;
    double *sigma_rad;
    double expected_slips;
    size_t n_smoothed;
} wf_fringe_phase;

/** Unwrap the phase.
 *
 *  Means over blocks of n integrations are unwrapped from one to the next, and each integration
 *  against the line between the blocks: noise of one integration then cannot shift those after it.
 *  Of the lengths 1, 2, 4, ... that leave half the fringe's power the one with the fewest expected
 *  slips is taken, the first where they are next to none: long blocks quiet the noise, short ones
 *  follow the wander. The scatter of steps is that of a wrapped normal
 *  distribution; across a hole it is taken to grow as a random walk.
 *
 *  given   series  of which the rate is taken out: steps from integration to integration scatter
 *                  about 0
 *  status  OK | ARGUMENT: no integration | RANGE: fewer than 4 valid integrations | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fringe_phase_create(wf_fringe_phase **out,
                                                      const wf_fringe_series *series,
                                                      wf_error *err);
WF_API void wf_fringe_phase_destroy(wf_fringe_phase *phase);

/** Allan deviation at one averaging time.
 *
 *  deviation       overlapping Allan deviation of the fringe's frequency, relative
 *  low, high       its interval of 68.3 % confidence
 *  thermal         what thermal noise (white phase noise) alone gives: sqrt(3) sigma_x / tau; 0
 *                  where it is not known
 *  beyond_thermal  root of what the variance has beyond that; 0 where it has nothing
 *  noise_exponent  alpha of S_y(f) ~ f^alpha by which the interval goes: 2 white phase, 1 flicker
 *                  phase, 0 white frequency, -1 flicker frequency, -2 random walk of frequency
 *  edf             equivalent degrees of freedom
 *  n_terms         second differences averaged; holes in the data cost those that touch them
 */
typedef struct wf_allan_point {
    double tau_s;
    double deviation;
    double low;
    double high;
    double thermal;
    double beyond_thermal;
    double edf;
    int noise_exponent;
    size_t n_terms;
} wf_allan_point;

/** Allan deviation against averaging time: interval_s * 2^k, as far as the phase reaches. */
typedef struct wf_allan {
    size_t n_points;
    wf_allan_point *points;
} wf_allan;

/** Measure the Allan deviation of a baseline: that of both its stations together.
 *
 *  status  OK | ARGUMENT: interval or frequency not positive | RANGE: no three phases in a row
 *          | MEMORY
 *  source  Riley 2008, NIST SP 1065: overlapping Allan variance; kind of noise by the lag-1
 *          autocorrelation (section 5.5), its exponent never rising with the time, and taken over
 *          from shorter times where fewer than 30 phases are left; degrees of freedom by Howe,
 *          Allan and Barnes 1981 (table for the overlapping estimate); chi-squared interval
 *          (section 5.3). Section numbers from memory.
 */
WF_API WF_MUST_CHECK wf_status wf_allan_measure(wf_allan **out, const wf_fringe_phase *phase,
                                                wf_error *err);
WF_API void wf_allan_destroy(wf_allan *allan);

/** A baseline's Allan deviations for the separation of stations. */
typedef struct wf_allan_baseline {
    size_t i_station;
    size_t j_station;
    const wf_allan *allan;
} wf_allan_baseline;

/** One station's Allan deviation at one averaging time.
 *
 *  solved     the baselines at hand separate this station from the others
 *  variance   beyond thermal noise; scatter may make the separated one of a stable station
 *             negative: then `deviation` is 0, and variance + variance_error bounds it
 *  deviation  its root
 */
typedef struct wf_allan_station_point {
    bool solved;
    double tau_s;
    double variance;
    double variance_error;
    double deviation;
} wf_allan_station_point;

/** Separate the stations: variance_ij = variance_i + variance_j, weighted least squares over all
 *  baselines; with three stations the three-cornered hat.
 *
 *  Supposes that stations vary independently. A station is solved where its baselines close a ring
 *  of an odd number of stations, or are joined to one.
 *
 *  given     baselines  [n_baselines] of one stretch, same interval
 *            n_points   averaging times; baselines that have fewer are left out beyond
 *  returned  points     [n_stations][n_points]
 *  status    OK | ARGUMENT: a station beyond n_stations, a baseline of a station with itself,
 *            unlike averaging times | MEMORY
 *  source    Gray and Allan 1974, "A method for estimating the frequency stability of an individual
 *            oscillator" (three stations; from memory)
 */
WF_API WF_MUST_CHECK wf_status wf_allan_stations(wf_allan_station_point *points, size_t n_points,
                                                 size_t n_stations,
                                                 const wf_allan_baseline *baselines,
                                                 size_t n_baselines, wf_error *err);

/** Allan deviation that a hydrogen maser typically keeps, one station; a baseline has sqrt(2) times
 *  that.
 *
 *  White phase 1e-13/tau, white frequency 5e-14/sqrt(tau), flicker floor 1e-15, squares added:
 *  1.1e-13 at 1 s, 1.9e-14 at 10 s, 5.2e-15 at 100 s, 1.9e-15 at 1000 s. Common practice, from
 *  memory of data sheets.
 */
WF_API double wf_maser_allan_deviation(double tau_s);

/** Allan deviation of the zenith path through a turbulent atmosphere, one station; at elevation e
 *  about 1 / sin e of it, a baseline of far stations has sqrt(2) of it.
 *
 *  Refractivity of structure function C^2 r^(2/3) within a layer of height h drifts by with wind v:
 *  C = 2.4e-7 m^(-1/3), h = 2000 m, v = 8 m/s. A mean site; good or bad weather is a factor of 3
 *  off. 2.2e-13 at 1 s, 8.9e-14 at 100 s, 3.1e-14 at 1000 s: steeper once the wind has passed a
 *  layer's height.
 *
 *  source  Treuhaft and Lanyi 1987, Radio Science 22, 251 (values from memory)
 */
WF_API double wf_atmosphere_allan_deviation(double tau_s);

typedef enum wf_phase_event_kind {
    WF_PHASE_JUMP,       /* a step that stays */
    WF_PHASE_SLIP,       /* a step of whole turns */
    WF_PHASE_RATE_CHANGE /* the fringe goes on at another rate */
} wf_phase_event_kind;

/** Something that happened to a fringe's phase.
 *
 *  time_s        since the start of the first integration, between two of them
 *  time_error_s  about
 *  size          rad; of a rate change rad/s. A baseline's phase is the first station's less the
 *                second's; a rate change is -2 pi frequency times that of the residual delay's rate
 *  error         standard deviation of the size, by what the phase does elsewhere
 *  turns         of a slip, signed
 *  false_alarm   at most this probability that a stretch without events shows one as strong
 *  n_window      integrations on each side that show it best
 */
typedef struct wf_phase_event {
    wf_phase_event_kind kind;
    double time_s;
    double time_error_s;
    double size;
    double error;
    double false_alarm;
    int turns;
    size_t n_window;
} wf_phase_event;

/** Events in the order of time.
 *
 *  phase_rad  [n_times] the phase without them; NaN where nothing is valid
 */
typedef struct wf_phase_events {
    size_t n_events;
    wf_phase_event *events;
    size_t n_times;
    double *phase_rad;
} wf_phase_events;

/** Limit on the events of one phase; of more the strongest are told. */
#define WF_PHASE_EVENTS_MAX 32

/** Find jumps, slips and rate changes.
 *
 *  At each time straight lines are fitted to the n integrations before and after, n = 2, 4, ... 128
 *  and at most an eighth of the stretch: their offset there, and from n = 4 on the difference of
 *  their slopes, over what these do in the rest of the stretch (mean square of the smaller four
 *  fifths), so that noise and wander of any spectrum count as such while they stay the same
 *  throughout. The strongest is taken out, and so on. Whoever asks for slips should look at the
 *  phase's expected_slips: a wrong turn is a slip.
 *
 *  given   false_alarm  probability, at most, that a stretch without events yields any; 0.001 is
 *                       a good choice. Of Gaussian noise; the limits are Student's, for the spread
 *                       is an estimate, times the number of times and windows
 *  status  OK, also of phases too short for any | ARGUMENT: a probability not within (0, 1)
 *          | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_phase_events_find(wf_phase_events **out,
                                                    const wf_fringe_phase *phase,
                                                    double false_alarm, wf_error *err);
WF_API void wf_phase_events_destroy(wf_phase_events *events);

/** A steady oscillation of the phase: vibration, mains, a cryogenic pump.
 *
 *  frequency_hz   as it shows: one beyond 1 / (2 interval) is folded back, and weakened by the
 *                 integration
 *  amplitude_rad  of the sine
 *  false_alarm    probability that a spectrum without lines shows one as strong
 */
typedef struct wf_phase_line {
    double frequency_hz;
    double frequency_error_hz;
    double amplitude_rad;
    double amplitude_error_rad;
    double phase_rad; /* of the cosine, at the start of the first integration */
    double false_alarm;
} wf_phase_line;

/** Spectrum of a fringe's phase.
 *
 *  step_hz       bin i has the frequency i * step_hz, from 0 to 1 / (2 interval)
 *  density       [n_bins] one-sided, rad^2/Hz
 *  background    [n_bins] running median of the bins around, as a mean: what noise and wander are
 *                without lines
 *  lines         [n_lines] by frequency
 */
typedef struct wf_phase_spectrum {
    size_t n_bins;
    double step_hz;
    double *density;
    double *background;
    size_t n_lines;
    wf_phase_line *lines;
} wf_phase_spectrum;

/** Measure the spectrum and find lines in it.
 *
 *  A parabola is taken out and Hann's taper laid on, so that slow wander does not leak. A line is
 *  held against the median of the bins within a factor of 1.5 in frequency, at most 40 to each
 *  side, so that a steep spectrum is no line; it has ten periods in the stretch at least.
 *
 *  given     interval_s   of the phases
 *            phase_rad    [n_times] best without jumps: wf_phase_events.phase_rad; NaN: hole
 *            false_alarm  probability that a spectrum without lines yields any
 *  status    OK | ARGUMENT: a probability not within (0, 1), an interval that is not positive
 *            | RANGE: fewer than 8 phases | MEMORY
 *  source    Scargle 1982, ApJ 263, 835: 1 - (1 - exp(-z))^M for the largest of M bins of known
 *            mean; here the mean is estimated from some K bins, and exp(-z) becomes
 *            (1 + z/K)^-K
 */
WF_API WF_MUST_CHECK wf_status wf_phase_spectrum_measure(wf_phase_spectrum **out,
                                                         const double *phase_rad, size_t n_times,
                                                         double interval_s, double false_alarm,
                                                         wf_error *err);
WF_API void wf_phase_spectrum_destroy(wf_phase_spectrum *spectrum);

/** What was found on one baseline, for telling whose it is. Phases of one stretch, alike in times.
 *
 *  spectrum  NULL where lines are not asked for
 */
typedef struct wf_event_baseline {
    size_t i_station;
    size_t j_station;
    const wf_phase_events *events;
    const wf_phase_spectrum *spectrum;
} wf_event_baseline;

/** An event and whose it is.
 *
 *  assigned     one station accounts for what all baselines show there, and the other of the
 *               baseline that shows it best does so worse, by 16 in chi^2
 *  i_station    it; else the first station of the baseline that shows the event best
 *  j_station    the second of that baseline; of an assigned event i_station again
 *  event        of the station's phase, or of that baseline's; its size the weighted mean over the
 *               station's baselines. Where a jump is near half a turn its sign is that of the
 *               strongest
 *  n_baselines  of the station that were measured
 */
typedef struct wf_station_event {
    bool assigned;
    size_t i_station;
    size_t j_station;
    size_t n_baselines;
    wf_phase_event event;
} wf_station_event;

typedef struct wf_station_line {
    bool assigned;
    size_t i_station;
    size_t j_station;
    size_t n_baselines;
    wf_phase_line line;
} wf_station_line;

/** Events by time, lines by frequency. */
typedef struct wf_station_events {
    size_t n_events;
    wf_station_event *events;
    size_t n_lines;
    wf_station_line *lines;
} wf_station_events;

/** Tell whose the events and lines of all baselines are.
 *
 *  An event that some baseline shows is measured on all: s_ij = s_i - s_j. If it is station m's,
 *  s_ij is s, -s or 0; of the two stations of the baseline that shows it best the one is taken that
 *  fits all baselines with the lesser chi^2, jumps apart from whole turns. With fewer than three
 *  stations nothing is assigned. What one station's event explains is not told again.
 *
 *  given     baselines  [n_baselines]
 *            interval_s of their phases
 *  status    OK | ARGUMENT: no baseline, one of a station with itself, unlike lengths | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_station_events_find(wf_station_events **out,
                                                      const wf_event_baseline *baselines,
                                                      size_t n_baselines, double interval_s,
                                                      wf_error *err);
WF_API void wf_station_events_destroy(wf_station_events *events);

#endif
