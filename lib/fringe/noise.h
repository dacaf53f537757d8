/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise of a fit's bands, from what the fringe leaves. */
#ifndef WFI_FRINGE_NOISE_H
#define WFI_FRINGE_NOISE_H

#include "fringe/climb.h"

/** Variance of one component of the noise of a visibility of scaled weight 1.
 *
 *  given     sum   [bands->n] at the place
 *  returned  band  [bands->n], each by itself; that of all where a band has too little for it
 *            all   their mean
 *  status    OK | RANGE: the fit leaves nothing | MEMORY
 */
wf_status wfi_noise(double *band, double *all, const wfi_bands *bands, wfi_phases phases,
                    const double complex *sum, wfi_place at, wf_error *err);

#endif
