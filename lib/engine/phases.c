/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Room for phasors. */
#include "engine/phases.h"

#include "base/memory.h"
#include "base/status.h"

wf_status wfi_phases_create(wfi_phases *phases, size_t n, wf_error *err)
{
    const size_t n_blocks = (n + WFI_PHASE_BLOCK - 1) / WFI_PHASE_BLOCK;
    const size_t capacity = (n_blocks + WFI_PHASE_CHAINS - 1) / WFI_PHASE_CHAINS * WFI_PHASE_CHAINS;
    WFI_TRY(wfi_allocate(&phases->block_re, capacity, sizeof(float), "phases", err));
    return wfi_allocate(&phases->block_im, capacity, sizeof(float), "phases", err);
}

void wfi_phases_destroy(wfi_phases *phases)
{
    wfi_free(phases->block_re);
    wfi_free(phases->block_im);
    *phases = (wfi_phases){0};
}
