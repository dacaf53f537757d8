/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks further off than one correlation spans. */
#ifndef WFI_SEARCH_SHIFTS_H
#define WFI_SEARCH_SHIFTS_H

#include "search/hunt.h"

/** Shift the clocks of missing stations, step by step, over the window that the options ask for. */
wf_status wfi_look_further(wfi_hunt *hunt, wf_error *err);

#endif
