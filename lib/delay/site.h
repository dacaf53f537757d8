/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a delay model keeps of a station's ground and antenna. */
#ifndef WFI_DELAY_SITE_H
#define WFI_DELAY_SITE_H

#include <whitefringe/observation.h>

#include "delay/atmosphere.h"
#include "delay/local_frame.h"
#include "delay/ocean_loading.h"

/** Start from {0}; release it. */
typedef struct wfi_site {
    double position_itrf_m[3]; /* where the antenna's axes meet, at the position's epoch */
    double velocity_itrf_m_per_year[3];
    double epoch_year;
    bool on_ground; /* else no tide moves it: its delay comes from a table, or it is in space */
    wfi_local_frame frame; /* geodetic */
    wf_post_seismic *post_seismic;
    size_t n_post_seismic;
    wf_ocean_pole_tide *ocean_pole_tide; /* NULL: not known */
    wfi_ocean_loading *ocean_loading;    /* NULL: not known */
    wf_antenna *antenna;                 /* NULL: not known */
    wfi_atmosphere atmosphere;           /* where the station is on the ground */
} wfi_site;

/** Whether a station can be that far from the geocentre. */
bool wfi_is_on_ground(double radius_m);

/** Set every station's site; what the observation holds is copied.
 *
 *  given   sites  [n_stations]
 *  status  OK | MISSING, FORMAT: the files of ocean loading and of GPT2, or a station that the
 *          former lacks and that needs it | IO | MEMORY
 */
wf_status wfi_sites_set(wfi_site *sites, const wf_observation *observation, wf_error *err);

void wfi_site_release(wfi_site *site);

#endif
