/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shares of the delay, for those who print or sum them, and what they lack. */
#include <string.h>

#include "delay/model.h"
#include "delay/vector.h"

static const wf_delay_share shares[] = {
#define SHARE(name, on, heading, text)                                                             \
    {#name, heading, text, offsetof(wf_delay_terms, name), offsetof(wf_delay, name##_s)},
    WF_DELAY_SHARES(SHARE)
#undef SHARE
};

const wf_delay_share *wf_delay_shares(size_t *n)
{
    *n = sizeof shares / sizeof shares[0];
    return shares;
}

/* By name: the terms that need more than a job must give. */
static bool has_data(const wf_delay_model *model, size_t i_station, const char *name)
{
    const wf_station *station = &model->stations[i_station];
    const wfi_site *site = &model->sites[i_station];
    if (strcmp(name, "station_velocity") == 0)
        return wfi_length(station->velocity_itrf_m_per_year) > 0.0;
    if (strcmp(name, "ocean_loading") == 0)
        return site->ocean_loading != NULL;
    if (strcmp(name, "ocean_pole_tide") == 0)
        return site->ocean_pole_tide != NULL;
    if (strcmp(name, "thermal_expansion") == 0)
        return site->antenna != NULL;
    if (strcmp(name, "troposphere_wet") == 0)
        return station->wet_from_weather || station->zenith_wet_delay_m != 0.0;
    return true;
}

wf_term_state wf_delay_share_state(const wf_delay_model *model, size_t i_station, size_t i_share)
{
    const wf_delay_share *share = &shares[i_share];
    const bool is_on = *(const bool *)((const char *)&model->terms + share->switch_offset);
    if (!is_on || model->tables[i_station].n_rows > 0 || model->orbits[i_station].n_rows > 0)
        return WF_TERM_OFF;
    return has_data(model, i_station, share->name) ? WF_TERM_APPLIED : WF_TERM_NO_DATA;
}
