/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One piece of a track: a polynomial through a smooth function at Chebyshev's nodes. */
#ifndef WFI_DELAY_TRACK_FIT_H
#define WFI_DELAY_TRACK_FIT_H

#include <whitefringe/delay.h>

enum { WFI_TRACK_NODES = WF_TRACK_DEGREE + 1 };

/** Where a piece is sampled. */
wf_instant wfi_track_node(wf_instant start, double length_s, size_t i_node);

/** The polynomial in powers of the time since the piece's start, s.
 *
 *  returned  the size of its last term in Chebyshev's series, s: what the polynomial leaves is
 *            smaller, by the same ratio as this term to the one before
 */
double wfi_track_fit(const double value_s[WFI_TRACK_NODES], double length_s,
                     double coefficient[WFI_TRACK_NODES]);

#endif
