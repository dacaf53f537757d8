/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the ground of a station settles after earthquakes. */
#ifndef WFI_DELAY_POST_SEISMIC_H
#define WFI_DELAY_POST_SEISMIC_H

#include <whitefringe/observation.h>

/** Sum of n terms, east, north, up, m. */
void wfi_post_seismic(const wf_post_seismic *terms, size_t n, wf_instant t, double enu_m[3]);

#endif
