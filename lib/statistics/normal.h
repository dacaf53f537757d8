/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The normal and the gamma distribution. */
#ifndef WFI_STATISTICS_NORMAL_H
#define WFI_STATISTICS_NORMAL_H

/** Probability that a standard normal variable exceeds x. */
double wfi_normal_above(double x);

/** x with wfi_normal_above(x) = p, 0 < p < 1; to 1e-12. Beyond +-38 it stays there. */
double wfi_normal_quantile_above(double p);

/** Probability that a gamma variable of that shape, scale 1, exceeds x >= 0.
 *
 *  accuracy  1e-12 relative, shape up to 1e12
 *  source    series and continued fraction of Abramowitz and Stegun 1964, 6.5.29 and 6.5.31; from
 *            a shape of 1e5 on the Wilson-Hilferty form of it, 26.4.17, good to 1e-5 in
 * x/sqrt(shape)
 */
double wfi_gamma_above(double shape, double x);

/** x with wfi_gamma_above(shape, x) = p. */
double wfi_gamma_quantile_above(double shape, double p);

#endif
