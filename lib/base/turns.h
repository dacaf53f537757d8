/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phases in turns, reduced before they are rounded: 230 GHz x 20 ms are 4.6e9 turns, of which only
 * the fraction counts. */
#ifndef WFI_BASE_TURNS_H
#define WFI_BASE_TURNS_H

#include <math.h>

/** 2 pi. */
#define WFI_RAD_PER_TURN 6.283185307179586476925286766559

/** x reduced to [-1/2, 1/2]. */
static inline double wfi_turns_reduce(double x)
{
    return x - rint(x);
}

/** a * b reduced to [-1/2, 1/2] turns; the product's rounding error is taken along by an fma, so
 *  that the result is as good as a and b themselves. */
static inline double wfi_turns_product(double a, double b)
{
    const double high = a * b;
    const double low = fma(a, b, -high);
    return wfi_turns_reduce(wfi_turns_reduce(high) + low);
}

#endif
