/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectral kurtosis: does the power of a channel scatter as that of Gaussian noise?
 *
 *  For M independent power estimates with the sums S1 = sum P, S2 = sum P^2:
 *  SK = (M d + 1)/(M - 1) (M S2/S1^2 - 1), expectation 1 for noise. A steady tone lowers it, what
 *  comes and goes raises it.
 *
 *  source  Nita and Gary 2010, MNRAS 406, L60, doi:10.1111/j.1745-3933.2010.00882.x, eqs. 8 and 9;
 *          d = 1: each power is |X|^2 of a complex transform's bin, or of a real one's but for the
 *          first and the last, d = 1/2
 */
#ifndef WFI_STATISTICS_KURTOSIS_H
#define WFI_STATISTICS_KURTOSIS_H

/** given   n  M, number of powers summed; at least 2
 *  returns    1 where the sum is 0 */
double wfi_kurtosis(double n, double d, double sum, double sum_of_squares);

/** Central moments of the estimator in Gaussian noise. */
typedef struct wfi_kurtosis_moments {
    double variance;
    double third;
    double fourth;
} wfi_kurtosis_moments;

wfi_kurtosis_moments wfi_kurtosis_moments_of(double n, double d);

/** Bounds that noise leaves with the one-sided probability of n_sigma of a normal variable, each.
 *
 *  The estimator's distribution is taken as that of Pearson type IV with its first four moments, as
 *  in section 4 of the source. Noise then exceeds the upper bound as often as it should (3 and 4
 *  sigma: within 30 %), and falls below the lower one less often. Fewer than some 30 powers make
 *  no type IV: then the upper bound is that of a gamma distribution with three of the moments, and
 *  the lower one 0.
 */
void wfi_kurtosis_bounds(double n, double d, double n_sigma, double *low, double *high);

/** Expectation in quantised noise: a transform of few coarse samples is not quite Gaussian.
 *
 *  For real samples E|X|^4 = (2 + k/n) E|X|^2^2, k the samples' excess kurtosis (1 bit: -2); for
 *  complex samples of independent parts half of that.
 *  given  excess  E x^4/(E x^2)^2 - 3 of the samples' real (and imaginary) parts
 *         n_fft   samples of a transform
 *         parts   1 real, 2 complex
 */
double wfi_kurtosis_of_quantised(double excess, double n_fft, double parts);

#endif
