/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a station is, in the terrestrial frame, at an instant. */
#ifndef WFI_DELAY_SITE_H
#define WFI_DELAY_SITE_H

#include <whitefringe/observation.h>

void wfi_site_position(const wf_station *station, const wf_delay_terms *terms, wf_instant t,
                       double position_itrf_m[3]);

#endif
