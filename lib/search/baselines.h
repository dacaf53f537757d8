/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Questions about a list of baselines. */
#ifndef WFI_SEARCH_BASELINES_H
#define WFI_SEARCH_BASELINES_H

#include <whitefringe/search.h>

/** Is a station one of its two? */
bool wfi_baseline_involves(const wf_search_baseline *baseline, size_t i_station);

/** Does any of them show a fringe? */
bool wfi_baselines_any_found(const wf_search_baseline *baselines, size_t n_baselines);

/** Index of that of two stations, either way round; n_baselines where it is not listed. */
size_t wfi_baselines_find(const wf_search_baseline *baselines, size_t n_baselines, size_t a,
                          size_t b);

#endif
