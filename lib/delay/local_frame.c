/* SPDX-License-Identifier: GPL-3.0-or-later */
/* East, north and up at a station, in the terrestrial frame. */
#include "delay/local_frame.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

void wfi_local_frame_set(wfi_local_frame *out, const double position_itrf_m[3])
{
    double site[3] = {position_itrf_m[0], position_itrf_m[1], position_itrf_m[2]};
    double longitude_rad = 0, latitude_rad = 0, height_m = 0;
    /* it refuses unknown ellipsoids only */
    (void)eraGc2gd(ERFA_GRS80, site, &longitude_rad, &latitude_rad, &height_m);
    const double sl = sin(longitude_rad), cl = cos(longitude_rad);
    const double sp = sin(latitude_rad), cp = cos(latitude_rad);
    *out = (wfi_local_frame){
        .east = {-sl, cl, 0.0}, .north = {-sp * cl, -sp * sl, cp}, .up = {cp * cl, cp * sl, sp}};
}

void wfi_local_frame_add(const wfi_local_frame *frame, const double enu[3], double vector[3])
{
    for (int i = 0; i < 3; i++)
        vector[i] += enu[0] * frame->east[i] + enu[1] * frame->north[i] + enu[2] * frame->up[i];
}
