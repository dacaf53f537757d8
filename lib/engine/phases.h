/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phasors of a linear phase, as a table of two levels: one phasor for the begin of each block of 16
 * channels or samples, times one for the place in it. Two roundings to float, however long the
 * run. */
#ifndef WFI_ENGINE_PHASES_H
#define WFI_ENGINE_PHASES_H

#include <stddef.h>
#include <whitefringe/status.h>

enum {
    WFI_PHASE_BLOCK = 16,
    WFI_PHASE_CHAINS = 8, /* blocks that are computed side by side */
};

/** Phasor k = (block_re + i block_im)[k / 16] * (step_re + i step_im)[k % 16]. */
typedef struct wfi_phases {
    float step_re[WFI_PHASE_BLOCK];
    float step_im[WFI_PHASE_BLOCK];
    float *block_re; /* whole chains */
    float *block_im;
} wfi_phases;

/** Room for runs of n phasors. */
wf_status wfi_phases_create(wfi_phases *phases, size_t n, wf_error *err);
void wfi_phases_destroy(wfi_phases *phases);

#endif
