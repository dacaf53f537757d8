/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Peaks of noise that bands with gaps make in company. */
#ifndef WFI_FRINGE_LOBES_H
#define WFI_FRINGE_LOBES_H

#include "fringe/bands.h"

/** Bands in phase with gaps between them have side lobes nearly as high as the main one: where
 *  noise makes one peak, it makes several, and their number tells too much of how often there is
 *  any.
 *
 *  given     height  of the peaks, over the standard deviation of one component
 *  returned  mean of 1 / (peaks above the height in the company of one), in (0, 1]: times the
 *            expected number of peaks the expected number of companies. 1 for one band. Over
 *            draws of noise around a peak, always the same ones: good to some 3 % in typical bands
 *  status    OK | MEMORY
 *  source    the chance of any of correlated events as the sum of 1 / (events that come with it):
 *            Aldous 1989, Probability Approximations via the Poisson Clumping Heuristic, section
 *            A; Naiman and Priebe 2001, J. Comput. Graph. Stat. 10, 296 (both from memory)
 */
wf_status wfi_lobes_share(double *share, const wfi_bands *bands, double height, wf_error *err);

#endif
