/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A step of a search. */
#ifndef WFI_SEARCH_STEPS_H
#define WFI_SEARCH_STEPS_H

#include "search/hunt.h"

/** Look, take over what the fringes say, keep the fits in the result. */
wf_status wfi_step_take(wfi_hunt *hunt, const wfi_look *look, wf_error *err);

/** The same with the clocks found, in a narrow window, over so much of the scan; stations that it
 *  does not confirm are forgotten. */
wf_status wfi_step_closely(wfi_hunt *hunt, double length_s, wf_error *err);

#endif
