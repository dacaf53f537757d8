/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is wrong with a station's own samples, without another station. */
#ifndef WFI_SEARCH_HEALTH_H
#define WFI_SEARCH_HEALTH_H

#include <whitefringe/diagnosis.h>

/** returned  findings  to be freed by the caller
 *  status    as wf_recording_open, wf_inspect
 */
wf_status wfi_health_check(wf_finding **findings, size_t *n_findings,
                           const wf_observation *observation, size_t i_station, wf_error *err);

/** Is there no power, or nothing valid, in any stream of the station? No change of the job brings
 * fringes then. */
bool wfi_health_holds_nothing(const wf_finding *findings, size_t n_findings,
                              const wf_observation *observation, size_t i_station);

#endif
