/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The vacuum delay of a station against the geocentre, and its direction to the source. */
#ifndef WFI_DELAY_GEOMETRY_H
#define WFI_DELAY_GEOMETRY_H

#include "delay/earth.h"
#include "delay/ephemeris.h"

/** A station looking at a source. */
typedef struct wfi_sight {
    double source[3];           /* unit vector, barycentre to source (BCRS axes) */
    double position_itrf_m[3];  /* of the station now */
    double position_m[3];       /* GCRS */
    double velocity_m_per_s[3]; /* GCRS */
    /* of the geocentre in the frame of `source`: 0 where that is the GCRS itself */
    double frame_velocity_m_per_s[3];
    /* eq. 11.9 without gravity is linear in the position: the delay is this times it */
    double gradient_s_per_m[3];
    double denominator; /* of eq. 11.9; gravity is divided by it too */
} wfi_sight;

/** Unit vector towards a right ascension and declination. */
void wfi_source_direction(double right_ascension_rad, double declination_rad, double direction[3]);

/** How far a direction of ICRF3, of 2015.0, has drifted at t by Galactic aberration: to be added.
 */
void wfi_galactic_drift(const double direction[3], wf_instant t, double drift[3]);

/** Fill the gradient and the denominator; all else is given.
 *
 *  source  IERS Conventions (2010) eq. 11.9 with the geocentre as station 1 and the epoch at the
 *          geocentre; differences of two stations agree with the baseline form to 0.03 ps
 */
void wfi_geometry(wfi_sight *sight, const wfi_ephemeris *ephemeris);

/** Geocentric position resolved east, north and towards the source. */
void wfi_uvw(const wfi_sight *sight, double right_ascension_rad, double declination_rad,
             double uvw_m[3]);

/** Where the source stands over the station's horizon: geodetic vertical of GRS80, annual and
 *  diurnal aberration in (eq. 11.15, 1st order), no refraction. Azimuth in [0, 2 pi). */
void wfi_horizon(const wfi_sight *sight, const wfi_earth *earth, double *azimuth_rad,
                 double *elevation_rad);

#endif
