/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The solid Earth under the tides of Sun and Moon. */
#ifndef WFI_DELAY_SOLID_TIDE_H
#define WFI_DELAY_SOLID_TIDE_H

/** A body that raises tides, seen from a station. */
typedef struct wfi_tidal_body {
    const double *position_itrf_m; /* [3] geocentric, borrowed */
    double distance_m;
    double factor_m; /* of degree 2: (mass / Earth's) R (R / distance)^3, R the equator's radius */
} wfi_tidal_body;

/** Where a station stands on the sphere. */
typedef struct wfi_tidal_place {
    double direction[3]; /* unit vector from the geocentre */
    double sin_latitude; /* geocentric */
    double cos_latitude;
    double sin_longitude;
    double cos_longitude;
} wfi_tidal_place;

/** The instant, as the tides' arguments take it. */
typedef struct wfi_tidal_time {
    double tt_centuries; /* Julian centuries of TT since J2000.0 */
    double utc_days;     /* since midnight of UTC */
} wfi_tidal_time;

/** Displacement of a station in the terrestrial frame.
 *
 *  The permanent part of the tide is left in, as in all coordinates of the ITRF ("conventional
 *  tide free").
 *
 *  given   station, sun, moon   geocentric, in the ITRF, m
 *  source  IERS Conventions (2010), section 7.1.1: both steps, with all tables of that section
 */
void wfi_solid_tide(const double station_itrf_m[3], const double sun_itrf_m[3],
                    const double moon_itrf_m[3], wfi_tidal_time time, double displacement_m[3]);

/* The parts of it, for their published checks; enu: east, north, up on the sphere, added to. */

wfi_tidal_place wfi_tidal_place_of(const double station_itrf_m[3]);

/** The Love numbers' imaginary parts, diurnal and semi-diurnal band. */
void wfi_solid_tide_diurnal_lag(const wfi_tidal_place *place, const wfi_tidal_body *body,
                                double enu_m[3]);
void wfi_solid_tide_semidiurnal_lag(const wfi_tidal_place *place, const wfi_tidal_body *body,
                                    double enu_m[3]);
/** The dependence of the Love numbers on latitude. */
void wfi_solid_tide_latitude(const wfi_tidal_place *place, const wfi_tidal_body *body,
                             double enu_m[3]);
/** Their dependence on frequency (step 2), diurnal and long-period band. */
void wfi_solid_tide_diurnal_lines(const wfi_tidal_place *place, wfi_tidal_time time,
                                  double enu_m[3]);
void wfi_solid_tide_long_period_lines(const wfi_tidal_place *place, wfi_tidal_time time,
                                      double enu_m[3]);

/** From east, north, up on the sphere to the terrestrial frame; added to. */
void wfi_tidal_place_add(const wfi_tidal_place *place, const double enu_m[3], double vector_m[3]);

#endif
