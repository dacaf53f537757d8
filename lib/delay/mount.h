/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Antennas whose axes do not meet. */
#ifndef WFI_DELAY_MOUNT_H
#define WFI_DELAY_MOUNT_H

#include <whitefringe/observation.h>

#include "delay/atmosphere.h"

/** Sine of the angle between the antenna's fixed axis and a direction: what the mount makes of the
 *  offset of its axes.
 *
 *  given   latitude_rad  geodetic
 *  source  Nothnagel 2009, J. Geodesy 83, 787; Sovers, Fanselow, Jacobs 1998, Rev. Mod. Phys. 70,
 *          1393
 */
double wfi_mount_factor(wf_mount mount, double latitude_rad, double azimuth_rad,
                        double elevation_rad);

/** How much higher than in vacuum a radio source stands, rad; below 3 degrees as at 3.
 *
 *  given   elevation_rad  in vacuum
 *  source  ERFA refco (Hohenkerk and Sinclair 1985; Stone 1996), radio case
 */
double wfi_refraction_rad(const wfi_weather *weather, double elevation_rad);

#endif
