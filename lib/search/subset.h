/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job of fewer stations: the recordings of the others need not be opened. */
#ifndef WFI_SEARCH_SUBSET_H
#define WFI_SEARCH_SUBSET_H

#include <whitefringe/observation.h>

/** Stations keep their numbers; those left out take part in no scan. */
typedef struct wfi_subset {
    wf_observation observation; /* borrows from the whole one */
    wf_recording_entry *recordings;
    wf_scan *scans;
    bool *takes_part; /* [n_scans][n_stations] */
} wfi_subset;

/** given  stations  [n_stations] to be kept */
wf_status wfi_subset_create(wfi_subset *out, const wf_observation *observation,
                            const bool *stations, wf_error *err);
void wfi_subset_release(wfi_subset *subset);

#endif
