/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How often noise alone makes a fringe. */
#ifndef WFI_FRINGE_SIGNIFICANCE_H
#define WFI_FRINGE_SIGNIFICANCE_H

#include <stddef.h>

/** The window that was searched, in units of the noise's own correlation.
 *
 *  width  of each axis times the standard deviation of the slope of one component of the noise
 *         along it, whose own standard deviation is 1; 0: a lone point
 *  correlation  of the slopes along the two axes
 *  is_cyclic    the window's two ends are the same point
 */
typedef struct wfi_searched {
    double width[2];
    double correlation;
    int is_cyclic[2];
    double share;   /* companies of peaks for each peak, see lobes.h; 0 counts as 1 */
    double freedom; /* degrees of freedom of the noise's estimate; 0: known */
} wfi_searched;

/** Probability that the sum of n powers of complex noise, each over the variance of one component,
 *  reaches `power` anywhere in the window: chi-squared with 2 n degrees of freedom.
 *
 *  The expected Euler characteristic of the region above (Worsley 1994, Adv. Appl. Prob. 26, 13;
 *  edges: Adler and Taylor 2007, eq. 15.10.1 and section 15.10.2, from memory), turned into a
 *  probability as for rare independent events. An estimated noise of f degrees of freedom makes
 *  (1 + u/f)^(-f/2) of exp(-u/2): u counts as f log(1 + u/f). */
double wfi_false_alarm(double power, size_t n, const wfi_searched *searched);

#endif
