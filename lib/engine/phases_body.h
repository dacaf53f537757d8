/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phasors of a linear phase: plain C that each family compiles for its own vectors.
 *
 * A few phasors by their definition, the rest by multiplication in double, 8 chains side by side,
 * whose error stays under n / 128 * 3e-16.
 */
#ifndef WFI_ENGINE_PHASES_BODY_H
#define WFI_ENGINE_PHASES_BODY_H

#include <math.h>

#include "base/turns.h"
#include "engine/phases.h"

typedef struct phasor {
    double re;
    double im;
} phasor;

/* Taylor's series of sin x / x and cos x in y = x^2, |x| <= pi / 2; what is left out is under
 * 1e-17. The even and the odd powers are summed side by side. */
static inline double sine_series(double y)
{
    const double z = y * y;
    const double even =
        1.0 + z * (1.0 / 120 + z * (1.0 / 362880 + z * (1.0 / 6227020800.0 +
                                                        z * (1.0 / 355687428096000.0 +
                                                             z * (1.0 / 51090942171709440000.0)))));
    const double odd =
        -1.0 / 6 +
        z * (-1.0 / 5040 + z * (-1.0 / 39916800 +
                                z * (-1.0 / 1307674368000.0 + z * (-1.0 / 121645100408832000.0))));
    return even + y * odd;
}

static inline double cosine_series(double y)
{
    const double z = y * y;
    const double even =
        1.0 + z * (1.0 / 24 + z * (1.0 / 40320 + z * (1.0 / 479001600 +
                                                      z * (1.0 / 20922789888000.0 +
                                                           z * (1.0 / 2432902008176640000.0)))));
    const double odd =
        -1.0 / 2 +
        z * (-1.0 / 720 + z * (-1.0 / 3628800 + z * (-1.0 / 87178291200.0 +
                                                     z * (-1.0 / 6402373705728000.0 +
                                                          z * (-1.0 / 1124000727777607680000.0)))));
    return even + y * odd;
}

/* Without branches, so that loops over it become vectors. */
static inline phasor phasor_of_turns(double turns)
{
    const double part = turns - rint(turns);
    const double half = rint(2 * part); /* -1, 0 or 1 */
    const double x = WFI_RAD_PER_TURN * (part - half / 2);
    const double sign = 1 - 2 * half * half;
    return (phasor){sign * cosine_series(x * x), sign * x * sine_series(x * x)};
}

/* The first chains by definition, the rest by multiplication, all chains side by side. */
static inline void fill_blocks(wfi_phases *phases, size_t n_blocks, double first_turns,
                               double block_turns, double amplitude)
{
    double re[WFI_PHASE_CHAINS];
    double im[WFI_PHASE_CHAINS];
    for (size_t k = 0; k < WFI_PHASE_CHAINS; k++) {
        const phasor p = phasor_of_turns(first_turns + (double)k * block_turns);
        re[k] = amplitude * p.re;
        im[k] = amplitude * p.im;
    }
    const phasor stride = phasor_of_turns(WFI_PHASE_CHAINS * block_turns);
    for (size_t b = 0; b < n_blocks; b += WFI_PHASE_CHAINS) {
        for (size_t k = 0; k < WFI_PHASE_CHAINS; k++) {
            phases->block_re[b + k] = (float)re[k];
            phases->block_im[b + k] = (float)im[k];
            const double next = re[k] * stride.re - im[k] * stride.im;
            im[k] = re[k] * stride.im + im[k] * stride.re;
            re[k] = next;
        }
    }
}

static void set_phases(wfi_phases *phases, double first_turns, double step_turns, double amplitude,
                       size_t n)
{
    for (size_t k = 0; k < WFI_PHASE_BLOCK; k++) {
        const phasor p = phasor_of_turns((double)k * step_turns);
        phases->step_re[k] = (float)p.re;
        phases->step_im[k] = (float)p.im;
    }
    fill_blocks(phases, (n + WFI_PHASE_BLOCK - 1) / WFI_PHASE_BLOCK, first_turns,
                WFI_PHASE_BLOCK * step_turns, amplitude);
}

#endif
