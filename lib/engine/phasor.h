/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phasors of a linear phase, from a table of two levels: exp of a block's begin times exp within
 * the block. Two roundings to float, however long the run. */
#ifndef WFI_ENGINE_PHASOR_H
#define WFI_ENGINE_PHASOR_H

#include <math.h>

#include "base/turns.h"

enum { WFI_PHASOR_BLOCK = 16 };

/** cos and sin of k * step_turns for k = 0..15. */
typedef struct wfi_phasor_steps {
    float re[WFI_PHASOR_BLOCK];
    float im[WFI_PHASOR_BLOCK];
} wfi_phasor_steps;

static inline void wfi_phasor(double turns, float *re, float *im)
{
    *re = (float)cos(WFI_RAD_PER_TURN * turns);
    *im = (float)sin(WFI_RAD_PER_TURN * turns);
}

static inline void wfi_phasor_steps_init(wfi_phasor_steps *steps, double step_turns)
{
    for (int k = 0; k < WFI_PHASOR_BLOCK; k++)
        wfi_phasor(k * step_turns, &steps->re[k], &steps->im[k]);
}

#endif
