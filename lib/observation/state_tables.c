/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a job says of a file of positions and velocities. */
#include "base/status.h"
#include "observation/build.h"

wf_status wfi_read_state_table(const wfi_build *build, const wfi_place *place,
                               const wfi_raw_state_table *raw, wf_state_table *out)
{
    static const wfi_choice frames[] = {{"gcrs", WF_STATE_GCRS},
                                        {"bcrs", WF_STATE_BCRS},
                                        {"bcrs_from_earth", WF_STATE_BCRS_FROM_EARTH}};
    static const wfi_choice scales[] = {
        {"utc", WF_TIME_UTC}, {"tt", WF_TIME_TT}, {"tdb", WF_TIME_TDB}};
    int frame = WF_STATE_GCRS;
    int scale = WF_TIME_UTC;
    char *path = NULL;
    if (raw == NULL)
        return WF_OK;
    WFI_TRY(wfi_read_choice(place, "state_table.frame", raw->frame, frames,
                            sizeof frames / sizeof frames[0], &frame));
    if (raw->time_scale != NULL)
        WFI_TRY(wfi_read_choice(place, "state_table.time_scale", raw->time_scale, scales,
                                sizeof scales / sizeof scales[0], &scale));
    WFI_TRY(wfi_document_resolve(&path, build->document, raw->file, build->err));
    *out = (wf_state_table){
        .path = path, .frame = (wf_state_frame)frame, .time_scale = (wf_time_scale)scale};
    return WF_OK;
}
