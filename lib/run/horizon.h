/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sources below a station's horizon, or below the limit that the job sets it. */
#ifndef WFI_RUN_HORIZON_H
#define WFI_RUN_HORIZON_H

#include <whitefringe/delay.h>

/** Tell of every station that has such scans: the first of them, and how many more.
 *
 *  The elevation is that at nine even places of a scan, straight between them. Samples are
 * correlated all the same: a wrong position in a job must not cost data, and what is below the
 * horizon is noise. given   scan_is_wanted  [n_scans] warn            NULL: nothing is told
 *  returned below_fraction  [n_stations] part of its scans' time during which the source stands
 *                           below the limit
 *  status  as wf_delay_evaluate
 */
wf_status wfi_horizon_warn(const wf_observation *observation, const wf_delay_model *model,
                           const bool *scan_is_wanted, double *below_fraction, wf_warn warn,
                           void *context, wf_error *err);

#endif
