/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Antennas whose axes do not meet. */
#include "delay/mount.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

#include "delay/vector.h"

/* Above 100 um eraRefco takes a wave for radio. */
static const double RADIO_WAVELENGTH_UM = 1e4;
/* The series in the tangent holds to 85 degrees of zenith distance, and not much further. */
static const double LOWEST_RAD = 3.0 * ERFA_DD2R;

/* The fixed axis: east, north, up. */
static void fixed_axis(wf_mount mount, double latitude_rad, double axis[3])
{
    axis[0] = mount == WF_MOUNT_XY_EAST ? 1.0 : 0.0;
    axis[1] = mount == WF_MOUNT_XY_NORTH ? 1.0 : 0.0;
    axis[2] = 0.0;
    if (mount == WF_MOUNT_EQUATORIAL) {
        axis[1] = cos(latitude_rad);
        axis[2] = sin(latitude_rad);
    } else if (mount != WF_MOUNT_XY_EAST && mount != WF_MOUNT_XY_NORTH) {
        axis[2] = 1.0;
    }
}

double wfi_mount_factor(wf_mount mount, double latitude_rad, double azimuth_rad,
                        double elevation_rad)
{
    const double c = cos(elevation_rad);
    const double direction[3] = {c * sin(azimuth_rad), c * cos(azimuth_rad), sin(elevation_rad)};
    double axis[3];
    fixed_axis(mount, latitude_rad, axis);
    const double across[3] = {direction[1] * axis[2] - direction[2] * axis[1],
                              direction[2] * axis[0] - direction[0] * axis[2],
                              direction[0] * axis[1] - direction[1] * axis[0]};
    return wfi_length(across);
}

double wfi_refraction_rad(const wfi_weather *weather, double elevation_rad)
{
    double a = 0, b = 0, bend = 0;
    const double vacuum = ERFA_DPI / 2.0 - fmax(elevation_rad, LOWEST_RAD);
    eraRefco(weather->pressure_hpa, weather->temperature_c, weather->relative_humidity,
             RADIO_WAVELENGTH_UM, &a, &b);
    /* the series is one of the bent direction: three steps leave 1e-8 rad at 3 degrees */
    for (int i = 0; i < 6; i++) {
        const double t = tan(vacuum - bend);
        bend = (a + b * t * t) * t;
    }
    return bend;
}
