/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job of fewer stations. */
#include "search/subset.h"

#include "base/memory.h"
#include "base/status.h"

static wf_status allocate(wfi_subset *out, const wf_observation *o, wf_error *err)
{
    WFI_TRY(wfi_allocate(&out->recordings, o->n_recordings, sizeof *out->recordings, "recordings",
                         err));
    WFI_TRY(wfi_allocate(&out->scans, o->n_scans, sizeof *out->scans, "scans", err));
    return wfi_allocate(&out->takes_part, o->n_scans * o->n_stations, sizeof(bool), "scans", err);
}

wf_status wfi_subset_create(wfi_subset *out, const wf_observation *observation,
                            const bool *stations, wf_error *err)
{
    const size_t n = observation->n_stations;
    *out = (wfi_subset){.observation = *observation};
    const wf_status status = allocate(out, observation, err);
    if (status != WF_OK) {
        wfi_subset_release(out);
        return status;
    }
    out->observation.recordings = out->recordings;
    out->observation.n_recordings = 0;
    for (size_t r = 0; r < observation->n_recordings; r++)
        if (stations[observation->recordings[r].i_station])
            out->recordings[out->observation.n_recordings++] = observation->recordings[r];
    out->observation.scans = out->scans;
    for (size_t s = 0; s < observation->n_scans; s++) {
        bool *takes_part = out->takes_part + s * n;
        for (size_t i = 0; i < n; i++)
            takes_part[i] = stations[i] && observation->scans[s].station_takes_part[i];
        out->scans[s] = observation->scans[s];
        out->scans[s].station_takes_part = takes_part;
    }
    return WF_OK;
}

void wfi_subset_release(wfi_subset *subset)
{
    wfi_free(subset->recordings);
    wfi_free(subset->scans);
    wfi_free(subset->takes_part);
    *subset = (wfi_subset){0};
}
