/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Turns of hypotheses: the likely ones before the many. */
#include "search/turn.h"

#include <string.h>

static bool is_named(const wfi_hypothesis *hypothesis, const char *name)
{
    return strcmp(hypothesis->name, name) == 0;
}

/* Misread, they leave a faint fringe, where most else leaves none. */
static bool is_of_codes(const wfi_hypothesis *hypothesis)
{
    static const char *const names[] = {"sign_and_magnitude_bits", "codes", "bit_order"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (is_named(hypothesis, names[i]))
            return true;
    return false;
}

int wfi_turn_of(const wfi_hypothesis *hypothesis, const wfi_plight *plight)
{
    const bool is_of_source = is_named(hypothesis, "other_source");
    if (hypothesis->n_steps == 0 || hypothesis->shown_by == WFI_SHOWN_BY_PRODUCTS ||
        (is_of_source && plight->others_have_fringes))
        return WFI_TURNS;
    if (!plight->others_have_fringes)
        return is_of_source ? 0 : 1;
    return plight->has_fringes && is_of_codes(hypothesis) ? 0 : 1;
}

bool wfi_rivals_a_settled_one(const wfi_hypothesis *hypothesis)
{
    return is_of_codes(hypothesis);
}
