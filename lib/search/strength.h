/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How strong a station's fringes are beside those of the others. */
#ifndef WFI_SEARCH_STRENGTH_H
#define WFI_SEARCH_STRENGTH_H

#include <whitefringe/search.h>

/** Set the strength of every station with fringes: the amplitude of a point source on baseline ij
 *  is g_i g_j, so that g_i^2 = a_ij a_ik / a_jk (Thompson, Moran, Swenson 2017, 3rd ed., section
 *  10.3: closure amplitudes rest on the same). The median over its triangles, over the median of
 *  the stations. */
wf_status wfi_mark_strength(wf_search_result *result, wf_error *err);

#endif
