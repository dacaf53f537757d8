/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When the wave arrived: the delay of every station against the geocentre.
 *
 *  Sign: the wavefront that passes the geocentre at t passes the station at t + tau_s. A station
 *  clock that is ahead by `ahead_s` tags it t + tau_s + ahead_s.
 */
#ifndef WHITEFRINGE_DELAY_H
#define WHITEFRINGE_DELAY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Delays of a whole observation: Earth orientation read, tables loaded, checked. Immutable. */
typedef struct wf_delay_model wf_delay_model;

/** Load what the delays need and check it; nothing of `observation` is needed afterwards.
 *
 *  A delay table is a text file: one row a line, `2026-03-01T12:00:00.0  -1.2345678901234567e-2`:
 *  geocentre time (UTC) and tau_s in seconds (sign as above, without the clock, which is added),
 *  in ascending, even or uneven steps; lines that start with # are comments. It needs four rows at
 *  least and must cover its station's scans and one second on either side. Between two rows the
 *  polynomial of degree 7 through the eight rows around holds (degree 3 where the table has fewer
 *  than eight).
 *
 *  A state table, of a spacecraft that is observed or of a station in space, is a text file too:
 *  one row a line, a time (UTC, TT or TDB, as stated) and x, y, z in m, vx, vy, vz in m/s in the
 *  frame that is stated, in ascending steps. Between two rows the polynomial of degree 7 through
 *  positions and velocities of the four rows around holds. It must cover the scans, one second on
 *  either side, and of a spacecraft the light's way before them. The delay then is the solution of
 *  the light-time equation, and the source's direction that of the spacecraft.
 *
 *  Earth orientation must be known from the day before the scans to two days after them (or be
 *  allowed to be continued by its trend: extrapolate_days); where
 *  every station has a table, it may be left out: u,v,w and elevations then hold to 1e-4.
 *
 *  status  OK | MISSING: a table's file is not there, or no Earth orientation is given
 *          | FORMAT: a file is not what it should be, file and line named; a station that is not
 *          near the ground | RANGE: Earth orientation or a table does not cover the scans
 *          | IO | MEMORY
 *  source  IERS Conventions (2010) chapter 11 (vacuum delay), chapter 5 (rotation, IAU 2006/2000A)
 */
WF_API WF_MUST_CHECK wf_status wf_delay_model_create(wf_delay_model **out,
                                                     const wf_observation *observation,
                                                     wf_error *err);
WF_API void wf_delay_model_destroy(wf_delay_model *model);

/** Tell of scans whose Earth orientation is predicted, or continued beyond its series.
 *
 *  given  scan_is_wanted  [n_scans]; NULL: all
 *         warn            called at most once for each kind of doubt; NULL: nothing is told
 */
WF_API void wf_delay_warn_of_orientation(const wf_delay_model *model, const bool *scan_is_wanted,
                                         wf_warn warn, void *context);

/** The delay of one station at one instant, term by term. Terms that are switched off, and those
 *  whose data are not given, are 0. */
typedef struct wf_delay {
    double tau_s;         /* sum of the terms below, clock not included */
    double clock_ahead_s; /* when the wave arrives, at t + tau_s; 0 where the clock is off */
    double geometry_s;    /* vacuum delay of the catalogue's position without gravity, with the
                             interpolated pole and UT1: IERS Conventions (2010) eq. 11.9 */
#define WF_DELAY_SHARE_FIELD(name, on, heading, text) double name##_s;
    WF_DELAY_SHARES(WF_DELAY_SHARE_FIELD)
#undef WF_DELAY_SHARE_FIELD
    double table_s;       /* from the user's table; the model's terms are then 0 */
    double uvw_m[3];      /* of the station's geocentric position: east, north, towards source */
    double azimuth_rad;   /* north over east, [0, 2 pi); of the source with aberration, vacuum;
                             NaN for a station in space, as the elevation */
    double elevation_rad; /* over the horizon of the ellipsoid (GRS80) */
} wf_delay;

/** Whether a term is applied to a station. */
typedef enum wf_term_state {
    WF_TERM_APPLIED, /* it may still be 0 */
    WF_TERM_OFF,     /* by the job, or because a table replaces the model */
    WF_TERM_NO_DATA, /* on, but the job gives nothing to work it out from */
} wf_term_state;

/** given  i_share  index into wf_delay_shares */
WF_API wf_term_state wf_delay_share_state(const wf_delay_model *model, size_t i_station,
                                          size_t i_share);

/** status  OK | RANGE: t outside Earth orientation or table; the message names the span */
WF_API WF_MUST_CHECK wf_status wf_delay_evaluate(const wf_delay_model *model, size_t i_station,
                                                 size_t i_source, wf_instant t, wf_delay *out,
                                                 wf_error *err);

/** The delays of all stations at one instant; what they share is worked out once.
 *
 *  given     is_wanted     [n_stations]; NULL: all
 *  returned  out           [n_stations]; of a station that is not wanted 0
 *            rate_s_per_s  [n_stations] of tau_s + clock_ahead_s, against geocentre time; NULL if
 *                          not wanted. From the delays half a second before and after: of ground
 *                          stations good to 1e-15 s/s
 *  status    as wf_delay_evaluate, half a second before and after included where rates are wanted
 */
WF_API WF_MUST_CHECK wf_status wf_delay_evaluate_all(const wf_delay_model *model, size_t i_source,
                                                     wf_instant t, const bool *is_wanted,
                                                     wf_delay *out, double *rate_s_per_s,
                                                     wf_error *err);

/** Delay of one station over one scan as piecewise polynomials, the clock included.
 *
 *  accuracy  interpolation error under 1e-14 s for a source above the horizon, however low; exact
 *            for a table
 */
typedef struct wf_track wf_track;

/** given   i_scan   the track spans the scan and one second on either side
 *  status  as wf_delay_evaluate
 */
WF_API WF_MUST_CHECK wf_status wf_track_create(wf_track **out, const wf_delay_model *model,
                                               size_t i_station, size_t i_scan, wf_error *err);

/** The tracks of a scan's stations; what they share is worked out once.
 *
 *  given     is_wanted  [n_stations]; NULL: all
 *  returned  out        [n_stations], each to be destroyed; NULL for those that are not wanted, and
 *                       for all on failure
 *  status    as wf_track_create
 */
WF_API WF_MUST_CHECK wf_status wf_tracks_create(wf_track **out, const wf_delay_model *model,
                                                size_t i_scan, const bool *is_wanted,
                                                wf_error *err);
WF_API void wf_track_destroy(wf_track *track);

/** Degree of every polynomial of a track. */
#define WF_TRACK_DEGREE 7

/** One piece: tau = sum over k of coefficient[k] * (t - start)^k for t in [start, start +
 * length_s]. */
typedef struct wf_track_piece {
    wf_instant start;
    double length_s;
    double coefficient[WF_TRACK_DEGREE + 1];            /* s, s/s, s/s^2, ... */
    double clock_coefficient[2];                        /* the clock's share of the first two */
    double atmosphere_coefficient[WF_TRACK_DEGREE + 1]; /* the troposphere's share of all */
} wf_track_piece;

WF_API size_t wf_track_n_pieces(const wf_track *track);
/** Borrowed; lives as long as the track. */
WF_API const wf_track_piece *wf_track_get_piece(const wf_track *track, size_t i_piece);

/** Evaluate a track.
 *
 *  given     t        inside the span of the track; outside it the nearest piece is continued
 *  returned  tau_s    s, clock included
 *            rate     s/s; NULL if not wanted
 *  threads   any number on one track
 */
WF_API void wf_track_evaluate(const wf_track *track, wf_instant t, double *tau_s,
                              double *rate_s_per_s);

/** Largest |d tau / dt| over the track, s/s, clock included. */
WF_API double wf_track_largest_rate(const wf_track *track);

#ifdef __cplusplus
}
#endif

#endif
