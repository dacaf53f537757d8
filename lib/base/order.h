/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in order. None of them may be NaN. */
#ifndef WFI_BASE_ORDER_H
#define WFI_BASE_ORDER_H

#include <stddef.h>

void wfi_sort_ascending(double *values, size_t n);

/** The middle one, or the mean of the two middle ones; the values are sorted.
 *
 *  given  n  at least 1
 */
double wfi_median(double *values, size_t n);

#endif
