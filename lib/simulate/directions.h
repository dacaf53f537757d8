/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Delays of the components of a sky: each is a source of its own to the delay model, heard by
 * stations whose clocks are what they are, not what the job believes. */
#ifndef WFI_SIMULATE_DIRECTIONS_H
#define WFI_SIMULATE_DIRECTIONS_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/delay.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#include "simulate/common_noise.h"

/** A point of the sky. */
typedef struct wfi_component {
    size_t i_source; /* seen in this source's scans */
    double east;     /* direction cosines from the source */
    double north;
    double correlation; /* power over the whole system's, of a line at its peak */
    double complex cross_hand;
    bool has_line;
    wfi_line line;
} wfi_component;

/** Right ascension and declination of a component.
 *
 *  Its direction is l e + m n + sqrt(1 - l^2 - m^2) s, e and n the unit vectors east and north of
 *  the source s.
 */
wf_source wfi_component_direction(const wf_source *source, const wfi_component *component);

/** The components of a source, [*first, *end) of a list in ascending order of sources. */
void wfi_components_of(const wfi_component *components, size_t n_components, size_t i_source,
                       size_t *first, size_t *end);

typedef struct wfi_directions {
    wf_delay_model *model;
    size_t *first_scan;      /* [n_scans] the model's scan of the source itself; its components'
                                follow */
    size_t *first_component; /* [n_scans] number of the first of them */
} wfi_directions;

/** given   components   [n_components] ascending i_source
 *          true_clocks  [n_stations]
 *  status  as wf_delay_model_create | UNSUPPORTED: a component beside its source where a delay
 *          table holds for the source alone
 */
wf_status wfi_directions_create(wfi_directions *out, const wf_observation *observation,
                                const wfi_component *components, size_t n_components,
                                const wf_clock *true_clocks, wf_error *err);
void wfi_directions_release(wfi_directions *directions);

/** Delay of a station over a scan towards the scan's source. */
wf_status wfi_directions_source_track(wf_track **out, const wfi_directions *directions,
                                      size_t i_station, size_t i_scan, wf_error *err);

/** The same towards a component of that source. */
wf_status wfi_directions_track(wf_track **out, const wfi_directions *directions, size_t i_station,
                               size_t i_scan, size_t i_component, wf_error *err);

#endif
