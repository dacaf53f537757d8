/* SPDX-License-Identifier: GPL-3.0-or-later */
/* In which turn a hypothesis is tried, and when no further one is needed. */
#ifndef WFI_SEARCH_TURN_H
#define WFI_SEARCH_TURN_H

#include <stdbool.h>

#include "observation/hypotheses.h"

enum { WFI_TURNS = 2 };

/** What a station looks like.
 *
 *  others_have_fringes  so the source is the right one
 *  has_fringes          of its own, but faint
 */
typedef struct wfi_plight {
    bool others_have_fringes;
    bool has_fringes;
} wfi_plight;

/** WFI_TURNS: not at all. */
int wfi_turn_of(const wfi_hypothesis *hypothesis, const wfi_plight *plight);

/** May it still be better than one that brings all that could be expected? Wrong codes leave a part
 * of the correlation, and other mistakes look like them in part. */
bool wfi_rivals_a_settled_one(const wfi_hypothesis *hypothesis);

#endif
