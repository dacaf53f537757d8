/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An antenna that grows with its temperature. */
#ifndef WFI_DELAY_ANTENNA_H
#define WFI_DELAY_ANTENNA_H

#include <whitefringe/observation.h>

/** Delay of a station by thermal expansion: negative where the antenna has grown, since the wave
 *  reaches it earlier.
 *
 *  given   mount_factor   what the mount makes of the axis offset: cos e for an alt-azimuth mount,
 *                         cos d for an equatorial one, ...
 *          temperature_c  of the structure; the air's of 2 hours (steel) before stands for it
 *  source  Nothnagel 2009, J. Geodesy 83, 787, doi:10.1007/s00190-008-0284-z
 */
double wfi_thermal_expansion_s(const wf_antenna *antenna, double axis_offset_m, double mount_factor,
                               double elevation_rad, double temperature_c);

#endif
