/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Does another job bring a station's fringes back? */
#ifndef WFI_SEARCH_ATTEMPT_H
#define WFI_SEARCH_ATTEMPT_H

#include <whitefringe/search.h>

/** What does not change from attempt to attempt.
 *
 *  partners  [n_stations] whose fringes with the station are looked for
 *  clocks    [n_stations] of the partners
 *  length_s  of the scan that is correlated
 *  options   complete
 */
typedef struct wfi_attempt_setup {
    const char *scan_name;
    size_t i_station;
    const bool *partners;
    const wf_clock *clocks;
    double length_s;
    double false_alarm;
    const wf_search_options *options;
} wfi_attempt_setup;

/** The strongest fringe of the station; found is false with a snr of 0 where it recorded nothing.
 *
 *  given   observation  whole, as changed by what is tried
 *  status  as wf_search
 */
wf_status wfi_attempt(wf_search_baseline *best, const wf_observation *observation,
                      const wfi_attempt_setup *setup, wf_error *err);

#endif
