/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a delay model keeps of a station's ground and antenna. */
#include "delay/site.h"

#include <erfa.h>
#include <erfam.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/gpt2_grid.h"
#include "delay/vector.h"

/* The poles are at 6357 km, the equator at 6378 km. */
static const double NEAREST_M = 6.34e6;
static const double FARTHEST_M = 6.40e6;

bool wfi_is_on_ground(double radius_m)
{
    return radius_m > NEAREST_M && radius_m < FARTHEST_M;
}

static wf_status set_atmosphere(wfi_site *site, const wf_station *station,
                                const wfi_gpt2_grid *grid, wf_error *err)
{
    double longitude = 0, latitude = 0, height_m = 0;
    wfi_gpt2 gpt2 = {0};
    (void)eraGc2gd(ERFA_GRS80, site->position_itrf_m, &longitude, &latitude, &height_m);
    if (grid->n_points > 0)
        gpt2 = wfi_gpt2_grid_around(grid, longitude, latitude);
    return wfi_atmosphere_set(&site->atmosphere, station, grid->n_points > 0 ? &gpt2 : NULL,
                              longitude, latitude, height_m, err);
}

static wf_status set_site(wfi_site *site, const wf_station *station, const wfi_gpt2_grid *grid,
                          wf_error *err)
{
    for (int i = 0; i < 3; i++) {
        site->position_itrf_m[i] = station->position_itrf_m[i] + station->eccentricity_itrf_m[i];
        site->velocity_itrf_m_per_year[i] = station->velocity_itrf_m_per_year[i];
    }
    site->epoch_year = station->position_epoch_year;
    site->on_ground =
        station->orbit.path == NULL && wfi_is_on_ground(wfi_length(site->position_itrf_m));
    wfi_local_frame_set(&site->frame, site->position_itrf_m);
    if (station->n_post_seismic > 0) {
        const size_t n = station->n_post_seismic;
        WFI_TRY(wfi_allocate(&site->post_seismic, n, sizeof site->post_seismic[0],
                             "post-seismic terms", err));
        memcpy(site->post_seismic, station->post_seismic, n * sizeof site->post_seismic[0]);
        site->n_post_seismic = n;
    }
    if (station->ocean_pole_tide != NULL) {
        WFI_TRY(wfi_allocate(&site->ocean_pole_tide, 1, sizeof *site->ocean_pole_tide,
                             "ocean pole tide", err));
        *site->ocean_pole_tide = *station->ocean_pole_tide;
    }
    if (station->antenna != NULL) {
        WFI_TRY(wfi_allocate(&site->antenna, 1, sizeof *site->antenna, "an antenna", err));
        *site->antenna = *station->antenna;
    }
    return site->on_ground ? set_atmosphere(site, station, grid, err) : WF_OK;
}

static wf_status set_ocean_loading(wfi_site *sites, const wf_observation *observation,
                                   const wfi_blq *blq, wf_error *err)
{
    for (size_t i = 0; i < observation->n_stations; i++) {
        const wf_station *station = &observation->stations[i];
        if (station->delay_table_path != NULL || station->orbit.path != NULL)
            continue;
        const wfi_blq_station *entry = NULL;
        WFI_TRY(wfi_blq_find(blq, station->name, &entry, err));
        WFI_TRY(wfi_allocate(&sites[i].ocean_loading, 1, sizeof *sites[i].ocean_loading,
                             "ocean loading", err));
        wfi_ocean_loading_set(sites[i].ocean_loading, entry);
    }
    return WF_OK;
}

static wf_status set_each(wfi_site *sites, const wf_observation *observation, wf_error *err)
{
    wfi_gpt2_grid grid = {0};
    wf_status status = WF_OK;
    if (observation->gpt2_grid_path != NULL)
        status = wfi_gpt2_grid_read(&grid, observation->gpt2_grid_path, err);
    for (size_t i = 0; status == WF_OK && i < observation->n_stations; i++)
        status = set_site(&sites[i], &observation->stations[i], &grid, err);
    wfi_gpt2_grid_release(&grid);
    return status;
}

wf_status wfi_sites_set(wfi_site *sites, const wf_observation *observation, wf_error *err)
{
    WFI_TRY(set_each(sites, observation, err));
    if (observation->ocean_loading_blq_path == NULL || !observation->delay_terms.ocean_loading)
        return WF_OK;
    wfi_blq blq = {0};
    wf_status status = wfi_blq_read(&blq, observation->ocean_loading_blq_path, err);
    if (status == WF_OK)
        status = set_ocean_loading(sites, observation, &blq, err);
    wfi_blq_release(&blq);
    return status;
}

void wfi_site_release(wfi_site *site)
{
    wfi_free(site->post_seismic);
    wfi_free(site->ocean_pole_tide);
    wfi_free(site->ocean_loading);
    wfi_free(site->antenna);
    wfi_atmosphere_release(&site->atmosphere);
    *site = (wfi_site){0};
}
