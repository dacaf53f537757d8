/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise of a fit's bands, from what the fringe leaves. */
#ifndef WFI_FRINGE_NOISE_H
#define WFI_FRINGE_NOISE_H

#include "fringe/climb.h"

typedef struct wfi_noise {
    double variance; /* of one component of a visibility of scaled weight 1 */
    double freedom;  /* degrees of freedom of a chi-squared that scatters alike */
} wfi_noise;

/** Degrees of freedom of a noise from the median of n exponential variables, which scatters by
 *  1 / (ln 2 sqrt(n)) of itself: 2 (ln 2)^2 n. */
double wfi_noise_freedom(size_t n);

/** given     sum   [bands->n] at the place
 *  returned  band  [bands->n], each by itself; that of all where a band has too little for it
 *            all   their mean by weight
 *  status    OK | RANGE: the fit leaves nothing | MEMORY
 */
wf_status wfi_noise_measure(wfi_noise *band, wfi_noise *all, const wfi_bands *bands,
                            wfi_phases phases, const double complex *sum, wfi_place at,
                            wf_error *err);

#endif
