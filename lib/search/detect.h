/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringe of every baseline of a cube, product by product. */
#ifndef WFI_SEARCH_DETECT_H
#define WFI_SEARCH_DETECT_H

#include <whitefringe/search.h>

#include "search/cube.h"

/** given   window       of every baseline
 *          false_alarm  below which a fringe is found
 *  returned  out        [n_pairs]
 *  status    as wf_fringe_fit_bands; baselines without valid visibilities are not found
 */
wf_status wfi_detect(wf_search_baseline *out, const wfi_cube *cube, const wf_fringe_window *window,
                     double false_alarm, size_t n_threads, wf_error *err);

/** Stations that fringes connect with each other, as the smallest index of each group.
 *
 *  returned  group  [n_stations]
 */
void wfi_connect(size_t *group, size_t n_stations, const wf_search_baseline *baselines,
                 size_t n_baselines);

#endif
