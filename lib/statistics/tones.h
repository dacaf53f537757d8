/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines that stand out of a power spectrum. */
#ifndef WFI_STATISTICS_TONES_H
#define WFI_STATISTICS_TONES_H

#include <whitefringe/statistics.h>

/** The local level of a spectrum: a running median, corrected for what the median of a mean of
 *  n exponential powers is below its mean.
 *
 *  returned  level  [n_bins] > 0
 */
wf_status wfi_spectrum_level(double *level, const double *power, size_t n_bins, double n_spectra,
                             wf_error *err);

/** Find lines in the sum of n_spectra spectra of Hann-windowed transforms.
 *
 *  given     power, level  [n_bins]
 *            first_hz, bin_hz  frequency of the first bin, and from bin to bin
 *  returned  tones    [n_max] the strongest first
 *  returns   how many; a bin of pure noise is taken for one with the chance of 1e-7 in all
 */
size_t wfi_find_tones(wf_tone *tones, size_t n_max, const double *power, const double *level,
                      size_t n_bins, double n_spectra, double first_hz, double bin_hz);

/** How far power/level stands above noise, in sigma of a normal variable of the same chance. */
double wfi_power_significance(double power, double level, double n_spectra);

#endif
