/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way of the light from a spacecraft, or to a station in space, solved directly: the plane wave
 * and the straight, even motion of IERS Conventions (2010) eq. 11.9 do not hold there. */
#ifndef WFI_DELAY_LIGHT_TIME_H
#define WFI_DELAY_LIGHT_TIME_H

#include "delay/geometry.h"
#include "delay/state_table.h"

/** The wave that passes the geocentre at an instant. Vectors have the axes of the GCRS. */
typedef struct wfi_wave {
    bool is_plane;
    bool is_geocentric;       /* solved in the GCRS: V and the Sun's potential are 0 */
    double direction[3];      /* unit, from the geocentre to where it came from */
    double from_target_m[3];  /* to the geocentre at its arrival; not of a plane wave */
    double distance_m;        /* the length of that */
    double frame_velocity[3]; /* of the geocentre in the frame of the solution, m/s */
    double frame_acceleration[3];
    double clock_rate;  /* what TDB gains on TT in a second at the geocentre */
    double contraction; /* lengths are shorter in the BCRS by this part */
} wfi_wave;

/** A plane wave from a unit vector of barycentric direction. */
void wfi_wave_plane(wfi_wave *out, const double direction[3], const wfi_ephemeris *ephemeris);

/** The wave from a spacecraft: its place at emission is found by iteration.
 *
 *  status  OK | RANGE: the table does not reach back to the emission | FORMAT: nearer than 100 km
 * to the geocentre
 */
wf_status wfi_wave_from(wfi_wave *out, const wfi_state_table *target, wf_instant t,
                        const wfi_ephemeris *ephemeris, wf_error *err);

/** A station near the instant t: on the ground a turning point, else an orbit. */
typedef struct wfi_course {
    wf_instant t;
    const wfi_state_table *orbit; /* NULL: the numbers hold */
    double position_m[3];         /* GCRS, at t */
    double velocity_m_per_s[3];
    double acceleration_m_per_s2[3];
} wfi_course;

/** When the wave reaches the station after the geocentre, s of TT, without gravity.
 *
 *  returned  direction  unit, from the station at arrival to the target at emission
 *  status    OK | RANGE: outside the orbit's table
 *  source    light-time equation in the BCRS with the transformation of IERS Conventions (2010) eq.
 *            11.19 and TDB - TT = V.x/c^2 + ...; the same content as the series of Sekido and
 *            Fukushima 2006, J. Geodesy 80, 137. Agrees with eq. 11.9 for distant sources to 0.03
 *            ps
 */
wf_status wfi_wave_arrival(const wfi_wave *wave, const wfi_course *course, double *tau_s,
                           double direction[3], wf_error *err);

/** Gravity's share of a spacecraft's wave, s, as of gravity.h. */
double wfi_wave_gravity_sun_s(const wfi_wave *wave, const double position_m[3],
                              const wfi_ephemeris *ephemeris);
double wfi_wave_gravity_planets_s(const wfi_wave *wave, const double position_m[3],
                                  const wfi_ephemeris *ephemeris);
double wfi_wave_gravity_earth_s(const wfi_wave *wave, const double position_m[3]);

#endif
