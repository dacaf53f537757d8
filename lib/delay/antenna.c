/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An antenna that grows with its temperature. */
#include "delay/antenna.h"

#include <math.h>

#include "delay/constants.h"

/* How the path lengthens as focus or secondary mirror recede from the vertex. */
static double focus_factor(wf_focus focus)
{
    return focus == WF_FOCUS_PRIME ? 0.9 : 1.8;
}

double wfi_thermal_expansion_s(const wf_antenna *antenna, double axis_offset_m, double mount_factor,
                               double elevation_rad, double temperature_c)
{
    const double warmer_k = temperature_c - antenna->reference_temperature_c;
    const double foundation_m = antenna->foundation_m * sin(elevation_rad);
    const double structure_m = antenna->axis_m * sin(elevation_rad) + axis_offset_m * mount_factor +
                               antenna->vertex_m - focus_factor(antenna->focus) * antenna->focus_m;
    const double grown_m = warmer_k * (antenna->foundation_per_k * foundation_m +
                                       antenna->structure_per_k * structure_m);
    return -grown_m / WFI_SPEED_OF_LIGHT_M_PER_S;
}
