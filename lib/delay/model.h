/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a delay model holds. */
#ifndef WFI_DELAY_MODEL_H
#define WFI_DELAY_MODEL_H

#include <whitefringe/delay.h>

#include "delay/delay_table.h"
#include "delay/eop.h"
#include "delay/site.h"
#include "delay/state_table.h"

struct wf_delay_model {
    wf_station *stations;    /* [n_stations], copies without what they point to */
    wfi_site *sites;         /* [n_stations], which holds that */
    wfi_delay_table *tables; /* [n_stations], n_rows = 0 where the model applies */
    wfi_state_table *orbits; /* [n_stations], n_rows = 0 for those on the ground */
    size_t n_stations;
    wf_source *sources;             /* [n_sources] */
    wfi_state_table *source_tracks; /* [n_sources], n_rows = 0 for distant ones */
    size_t n_sources;
    wf_scan *scans; /* who takes part is not kept */
    size_t n_scans;
    wf_delay_terms terms;
    wf_pole_tide_reference pole_tide_reference;
    wfi_eop eop;
};

/** First and last instant of the delays of a scan: one second on either side of it. */
wf_instant wfi_scan_first(const wf_scan *scan);
wf_instant wfi_scan_last(const wf_scan *scan);

#endif
