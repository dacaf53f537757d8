/* SPDX-License-Identifier: GPL-3.0-or-later */
/* East, north and up at a station, in the terrestrial frame. */
#ifndef WFI_DELAY_LOCAL_FRAME_H
#define WFI_DELAY_LOCAL_FRAME_H

typedef struct wfi_local_frame {
    double east[3];
    double north[3];
    double up[3];
} wfi_local_frame;

/** up: along the normal of the ellipsoid (GRS80). */
void wfi_local_frame_set(wfi_local_frame *out, const double position_itrf_m[3]);

/** Add a vector given as east, north, up to a terrestrial one. */
void wfi_local_frame_add(const wfi_local_frame *frame, const double enu[3], double vector[3]);

#endif
