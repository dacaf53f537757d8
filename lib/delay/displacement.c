/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a station has moved from its catalogued position, term by term. */
#include "delay/displacement.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

#include "delay/constants.h"
#include "delay/post_seismic.h"
#include "delay/vector.h"

/* Epochs of positions are decimal years of 365.25 days; 2015.0 is MJD 57023 (ITRF2020). */
enum { EPOCH_MJD = 57023 };
static const double EPOCH_YEAR = 2015.0;

static double years_since(double epoch_year, wf_instant t)
{
    const double since_2015_s = wf_instant_difference_s(t, wf_instant_of_mjd(EPOCH_MJD));
    return since_2015_s / WFI_JULIAN_YEAR_S - (epoch_year - EPOCH_YEAR);
}

static void body_itrf(const wfi_earth *earth, const wfi_ephemeris *ephemeris, const wfi_body *body,
                      double position_itrf_m[3])
{
    double geocentric[3];
    for (int i = 0; i < 3; i++)
        geocentric[i] = body->position_m[i] - ephemeris->earth_position_m[i];
    wfi_rotate(earth->celestial_to_terrestrial, geocentric, position_itrf_m);
}

/* Universal time is UTC here, as in the software of the conventions and in published theory: UT1,
 * up to 0.9 s off, would change ocean loading by a micrometre. */
static wfi_tidal_time tidal_time(const wfi_earth *earth, wf_instant t)
{
    int32_t mjd = 0, second_of_day = 0;
    wf_instant_utc(t, &mjd, &second_of_day);
    return (wfi_tidal_time){.tt_centuries =
                                (earth->tt_jd[0] - ERFA_DJ00 + earth->tt_jd[1]) / ERFA_DJC,
                            .utc_days = ((double)second_of_day + t.fraction) / WFI_DAY_S};
}

void wfi_tides_at(wfi_tides *out, wf_instant t, const wfi_eop_values *eop, const wfi_earth *earth,
                  const wfi_ephemeris *ephemeris, wf_pole_tide_reference reference)
{
    out->t = t;
    out->time = tidal_time(earth, t);
    body_itrf(earth, ephemeris, &ephemeris->sun, out->sun_itrf_m);
    body_itrf(earth, ephemeris, &ephemeris->planets[0], out->moon_itrf_m);
    out->wobble = wfi_wobble_of(reference, t, eop->pole_x_rad, eop->pole_y_rad);
}

void wfi_site_position(const wf_station *station, const wf_delay_terms *terms, wf_instant t,
                       double position_itrf_m[3])
{
    const double years =
        terms->station_velocity ? years_since(station->position_epoch_year, t) : 0.0;
    double enu_m[3] = {0, 0, 0};
    wfi_local_frame frame;
    wfi_local_frame_set(&frame, station->position_itrf_m);
    if (terms->post_seismic)
        wfi_post_seismic(station->post_seismic, station->n_post_seismic, t, enu_m);
    for (int i = 0; i < 3; i++)
        position_itrf_m[i] = station->position_itrf_m[i] + station->eccentricity_itrf_m[i] +
                             years * station->velocity_itrf_m_per_year[i];
    wfi_local_frame_add(&frame, enu_m, position_itrf_m);
}

static void add_secular(wfi_displacement *out, const wfi_site *site, const wf_delay_terms *terms,
                        wf_instant t)
{
    double enu_m[3];
    if (terms->station_velocity)
        for (int i = 0; i < 3; i++)
            out->station_velocity[i] =
                site->velocity_itrf_m_per_year[i] * years_since(site->epoch_year, t);
    if (!terms->post_seismic)
        return;
    wfi_post_seismic(site->post_seismic, site->n_post_seismic, t, enu_m);
    wfi_local_frame_add(&site->frame, enu_m, out->post_seismic);
}

static void add_tides(wfi_displacement *out, const wfi_site *site, const wf_delay_terms *terms,
                      const wfi_tides *tides)
{
    double enu_m[3];
    if (terms->solid_tide)
        wfi_solid_tide(site->position_itrf_m, tides->sun_itrf_m, tides->moon_itrf_m, tides->time,
                       out->solid_tide);
    if (terms->pole_tide) {
        wfi_pole_tide(&site->frame, tides->wobble, enu_m);
        wfi_local_frame_add(&site->frame, enu_m, out->pole_tide);
    }
    if (terms->ocean_loading && site->ocean_loading != NULL) {
        wfi_ocean_loading_at(site->ocean_loading, &tides->ocean, enu_m);
        wfi_local_frame_add(&site->frame, enu_m, out->ocean_loading);
    }
    if (terms->ocean_pole_tide && site->ocean_pole_tide != NULL) {
        wfi_ocean_pole_tide(site->ocean_pole_tide, tides->wobble, enu_m);
        wfi_local_frame_add(&site->frame, enu_m, out->ocean_pole_tide);
    }
}

void wfi_displacement_at(wfi_displacement *out, const wfi_site *site, const wf_delay_terms *terms,
                         const wfi_tides *tides)
{
    *out = (wfi_displacement){0};
    add_secular(out, site, terms, tides->t);
    if (site->on_ground)
        add_tides(out, site, terms, tides);
}
