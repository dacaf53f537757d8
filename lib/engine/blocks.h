/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a plan is cut: tiles, blocks, groups, stretches, chunks; by the job alone, never by the
 * number of threads. */
#ifndef WFI_ENGINE_BLOCKS_H
#define WFI_ENGINE_BLOCKS_H

#include "engine/plan.h"

/** given  plan  its grid, recordings, pairs and channelizers made */
void wfi_blocks_choose(wf_plan *plan);

#endif
