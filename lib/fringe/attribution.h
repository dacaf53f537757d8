/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which of two stations accounts for what all baselines measure. */
#ifndef WFI_FRINGE_ATTRIBUTION_H
#define WFI_FRINGE_ATTRIBUTION_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

/** One baseline's measurement of an event: value_i - value_j.
 *
 *  error  standard deviation of each component; not positive: not measured
 */
typedef struct wfi_event_measure {
    size_t i_station;
    size_t j_station;
    double complex value;
    double error;
} wfi_event_measure;

typedef struct wfi_attribution {
    bool assigned;
    size_t i_station;
    size_t n_baselines;
    double complex value;
    double error;
} wfi_attribution;

/** given  i_seed        measurement of which one of both stations it must be
 *         n_components  1: values are real; 2: complex
 *         turns         real values count but for whole turns, rad
 */
wfi_attribution wfi_attribute(const wfi_event_measure *measures, size_t n_measures, size_t i_seed,
                              int n_components, bool turns);

#endif
