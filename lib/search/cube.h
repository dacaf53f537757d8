/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Visibilities of one short scan in memory, baseline by baseline. */
#ifndef WFI_SEARCH_CUBE_H
#define WFI_SEARCH_CUBE_H

#include <whitefringe/fringe.h>

#include "run/session.h"

/** visibility  [n_pairs][n_bands][n_products][n_times][n_channels], house sense
 *  weight      [n_pairs][n_bands][n_products][n_times]
 *
 *  Pairs are the baselines of two different stations that take part, (0,1) (0,2) ... (1,2) ...
 */
typedef struct wfi_cube {
    const wf_observation *observation;
    const wf_plan *plan;
    wf_baseline *pairs;  /* [n_pairs] */
    size_t *i_baselines; /* [n_pairs] of the plan */
    size_t n_pairs;
    size_t n_times;
    float complex *visibility;
    double *weight;
} wfi_cube;

/** Which pairs: those with one station, or all. */
#define WFI_CUBE_ALL_PAIRS ((size_t)-1)

/** Correlate the only scan of a planned session.
 *
 *  given   session    must live as long as the cube
 *          n_times    integrations of the scan
 *          i_station  only pairs with this one; WFI_CUBE_ALL_PAIRS
 *  status  as wf_plan_execute; MEMORY
 */
wf_status wfi_cube_correlate(wfi_cube *out, const wfi_session *session, size_t n_times,
                             size_t i_station, size_t n_threads, wf_error *err);
void wfi_cube_release(wfi_cube *cube);

/** The part of one pair, band and product; borrows from the cube. */
wf_fringe_input wfi_cube_input(const wfi_cube *cube, size_t i_pair, size_t i_band,
                               size_t i_product);

#endif
