/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which channels of the output's bands did each station record? */
#ifndef WFI_RUN_BAND_COVERAGE_H
#define WFI_RUN_BAND_COVERAGE_H

#include <whitefringe/engine.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

/** Tell of bands that a station recorded in part, or not at all, in a polarization of which it
 *  recorded something: a slip in a frequency looks just like that. Channels without a stream are
 *  0 in the output, under the weight of the whole band.
 *
 *  given  warn  NULL allowed
 */
void wfi_band_coverage_warn(const wf_observation *observation, const wf_plan *plan, wf_warn warn,
                            void *context);

#endif
