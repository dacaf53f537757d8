/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slow trends of a phase. */
#ifndef WFI_FRINGE_PHASE_TREND_H
#define WFI_FRINGE_PHASE_TREND_H

#include <stddef.h>

/** Take out the parabola of least squares; NaN are holes. With fewer than 3 phases nothing is left
 *  of them. */
void wfi_phase_subtract_parabola(double *x, size_t n);

#endif
