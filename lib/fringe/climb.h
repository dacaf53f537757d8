/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The exact sums of a fit's bands, and the climb to their maximum. */
#ifndef WFI_FRINGE_CLIMB_H
#define WFI_FRINGE_CLIMB_H

#include <complex.h>
#include "fringe/bands.h"

/** COMMON: |sum over bands|^2 / total weight. FREE: sum over bands of |band|^2 / its weight. Both
 *  have twice the noise's variance a unit of weight as their mean on noise, times the bands for
 *  FREE. */
typedef enum wfi_phases { WFI_PHASES_COMMON, WFI_PHASES_FREE } wfi_phases;

typedef struct wfi_place {
    double delay_s;
    double rate;
} wfi_place;

/** Where a climb may go: box, and the size of the peak, which is its unit of step; 0 along an axis
 *  that nothing resolves. */
typedef struct wfi_bounds {
    wfi_place low, high, unit;
} wfi_bounds;

/** Each band's sum at a place, phase at its middle and at the middle of the stretch, weights
 *  scaled. sum [bands->n] */
void wfi_climb_sums(double complex *sum, const wfi_bands *bands, wfi_place at);

/** The bands' sums added in phase, phase at the reference. */
double complex wfi_climb_coherent(const double complex *sum, const wfi_bands *bands, wfi_place at);

/** The power at the top that a parabola at the place has; cheap. */
double wfi_climb_promise(const wfi_bands *bands, wfi_phases phases, wfi_place at, wfi_place unit);

/** To the maximum of the power, in steps of Newton's; until they fall below `tolerance` units.
 *
 *  returned  power  there; NULL if not wanted
 */
wfi_place wfi_climb(double *power, const wfi_bands *bands, wfi_phases phases, wfi_place start,
                    const wfi_bounds *bounds, double tolerance);

#endif
