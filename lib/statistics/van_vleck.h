/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Quantisation efficiency: what coarse sampling leaves of a small correlation. */
#ifndef WFI_STATISTICS_VAN_VLECK_H
#define WFI_STATISTICS_VAN_VLECK_H

#include <whitefringe/recording.h>

/** Efficiency of a sampler of Gaussian noise, eta = E[x q]^2 / (E[x^2] E[q^2]).
 *
 *  Small correlation coefficients of two samplers, normalised by the power of the samples, are
 *  sqrt(eta_i eta_j) times too small (0.1: 3e-4 of that is left, 2 bits).
 *
 *  given     mean_square  of the decoded samples, |x|^2 where complex, in the levels of
 *                         recording/levels.h (signed samples: the integers); it tells how far the
 *                         noise reaches over the thresholds
 *  returns   (0, 1]; 1 for floating-point samples. A mean square that no noise can give counts
 *            as the nearest one that some can
 *  accuracy  1e-6; 1e-4 where more than 10 bits clip
 *  source    Thompson, Emerson, Schwab 2007, Radio Science 42, RS3022
 */
double wfi_quantisation_efficiency(wf_sample_format format, double mean_square);

#endif
