/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stations whose fringes stand in the crossed products. */
#ifndef WFI_SEARCH_CROSSED_H
#define WFI_SEARCH_CROSSED_H

#include <whitefringe/search.h>

/** Set is_crossed of the stations: of two groups that are crossed against each other, the smaller;
 *  of two that are equal, the one without the reference. Set is_mixed where all products are alike.
 */
wf_status wfi_mark_crossed(wf_search_result *result, wf_error *err);

#endif
