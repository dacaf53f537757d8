/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a delay model holds. */
#ifndef WFI_DELAY_MODEL_H
#define WFI_DELAY_MODEL_H

#include <whitefringe/delay.h>

#include "delay/delay_table.h"
#include "delay/eop.h"
#include "delay/site.h"

struct wf_delay_model {
    wf_station *stations;    /* [n_stations], copies without what they point to */
    wfi_site *sites;         /* [n_stations], which holds that */
    wfi_delay_table *tables; /* [n_stations], n_rows = 0 where the model applies */
    size_t n_stations;
    wf_source *sources;
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
