/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a station is, in the terrestrial frame, at an instant. */
#include "delay/site.h"

#include "delay/constants.h"

/* Epochs of positions are decimal years of 365.25 days; 2015.0 is MJD 57023 (ITRF2020). */
enum { EPOCH_MJD = 57023 };
static const double EPOCH_YEAR = 2015.0;

static double years_since(double epoch_year, wf_instant t)
{
    const double since_2015_s = wf_instant_difference_s(t, wf_instant_of_mjd(EPOCH_MJD));
    return since_2015_s / WFI_JULIAN_YEAR_S - (epoch_year - EPOCH_YEAR);
}

void wfi_site_position(const wf_station *station, const wf_delay_terms *terms, wf_instant t,
                       double position_itrf_m[3])
{
    const double years =
        terms->station_velocity ? years_since(station->position_epoch_year, t) : 0.0;
    for (int i = 0; i < 3; i++)
        position_itrf_m[i] =
            station->position_itrf_m[i] + years * station->velocity_itrf_m_per_year[i];
}
