/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a station has moved from its catalogued position, term by term. */
#ifndef WFI_DELAY_DISPLACEMENT_H
#define WFI_DELAY_DISPLACEMENT_H

#include "delay/earth.h"
#include "delay/ephemeris.h"
#include "delay/pole_tide.h"
#include "delay/site.h"

/** What the displacements of all stations take from the instant. */
typedef struct wfi_tides {
    wf_instant t;
    wfi_tidal_time time;
    double sun_itrf_m[3]; /* geocentric */
    double moon_itrf_m[3];
    wfi_wobble wobble;
    wfi_ocean_phases ocean; /* left out where no site has ocean loading */
} wfi_tides;

/** All but the ocean's phases, which wfi_ocean_phases_at sets from `time`.
 *
 *  given  eop  at t, without sub-daily terms: the Earth's figure follows the pole of days
 */
void wfi_tides_at(wfi_tides *out, wf_instant t, const wfi_eop_values *eop, const wfi_earth *earth,
                  const wfi_ephemeris *ephemeris, wf_pole_tide_reference reference);

/** Where a station's axes meet, tides left out: its catalogued position, eccentricity, plate motion
 *  and post-seismic motion, as far as they are switched on. */
void wfi_site_position(const wf_station *station, const wf_delay_terms *terms, wf_instant t,
                       double position_itrf_m[3]);

/** Terrestrial vectors in m; a term that is off, or whose data are not given, is 0. */
typedef struct wfi_displacement {
    double station_velocity[3];
    double post_seismic[3];
    double solid_tide[3];
    double pole_tide[3];
    double ocean_loading[3];
    double ocean_pole_tide[3];
} wfi_displacement;

/** From the site's position to where the antenna's axes meet at the instant.
 *
 *  source  IERS Conventions (2010), sections 7.1.1 to 7.1.5
 */
void wfi_displacement_at(wfi_displacement *out, const wfi_site *site, const wf_delay_terms *terms,
                         const wfi_tides *tides);

#endif
