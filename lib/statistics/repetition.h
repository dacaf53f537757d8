/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data that come again: peaks of the autocorrelation of whitened samples. */
#ifndef WFI_STATISTICS_REPETITION_H
#define WFI_STATISTICS_REPETITION_H

#include <whitefringe/statistics.h>

#include "statistics/spectrum.h"

/** Find lags at which the samples resemble themselves.
 *
 *  The spectrum is divided by its local level and clipped there, so that neither the band-pass nor
 *  lines show; lags shorter than the band-pass is long (64 samples) are left out.
 *  given     sums   of transforms of which half or more are zeros behind the samples
 *  returned  found  [n_max] the strongest first
 *  returns   in n   how many; noise makes one with the chance of 1e-7
 */
wf_status wfi_find_repetitions(wf_repetition *found, size_t n_max, size_t *n,
                               const wfi_spectrum_sums *sums, wf_error *err);

#endif
