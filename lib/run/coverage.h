/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Do the recordings meet the scans, and each other? Asked before hours are spent. */
#ifndef WFI_RUN_COVERAGE_H
#define WFI_RUN_COVERAGE_H

#include <stdbool.h>
#include <whitefringe/observation.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

/** given    recordings   [n_recordings] open
 *           scan_wanted  [n_scans]
 *           warn         told of stations that miss single scans; NULL allowed
 *  status   OK | RANGE: a station whose recordings meet none of its scans, or stations of which
 *           no two were ever recorded at the same time; the message gives the times
 */
wf_status wfi_coverage_check(const wf_observation *observation,
                             const wf_recording *const *recordings, const bool *scan_wanted,
                             wf_warn warn, void *context, wf_error *err);

/** Which stations recorded a scan, and when all of them did, as far as their clocks are known.
 *
 *  given     takes_part  [n_stations] whose recordings count
 *  returned  recorded    [n_stations]
 *            common      of the scan; the whole scan where there is no such time
 */
void wfi_coverage_of_scan(bool *recorded, wf_time_span *common, const wf_observation *observation,
                          const wf_recording *const *recordings, const wf_scan *scan,
                          const bool *takes_part);

#endif
