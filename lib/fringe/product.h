/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Products and phasors without the detour that C's own product of complex numbers takes around
 * infinities: none comes here. */
#ifndef WFI_FRINGE_PRODUCT_H
#define WFI_FRINGE_PRODUCT_H

#include <complex.h>
#include <math.h>

#include "base/turns.h"

static inline double complex wfi_product(double complex a, double complex b)
{
    return CMPLX(creal(a) * creal(b) - cimag(a) * cimag(b),
                 creal(a) * cimag(b) + cimag(a) * creal(b));
}

static inline float complex wfi_productf(float complex a, float complex b)
{
    return CMPLXF(crealf(a) * crealf(b) - cimagf(a) * cimagf(b),
                  crealf(a) * cimagf(b) + cimagf(a) * crealf(b));
}

static inline double wfi_power(double complex a)
{
    return creal(a) * creal(a) + cimag(a) * cimag(a);
}

static inline double complex wfi_phasor(double turns)
{
    const double angle = WFI_RAD_PER_TURN * wfi_turns_reduce(turns);
    return CMPLX(cos(angle), sin(angle));
}

#endif
