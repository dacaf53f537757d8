/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectral kurtosis: does the power of a channel scatter as that of Gaussian noise? */
#include "statistics/kurtosis.h"

#include <math.h>

#include "statistics/normal.h"

double wfi_kurtosis(double n, double d, double sum, double sum_of_squares)
{
    if (!(sum > 0.0) || n < 2.0)
        return 1.0;
    return (n * d + 1.0) / (n - 1.0) * (n * sum_of_squares / (sum * sum) - 1.0);
}

wfi_kurtosis_moments wfi_kurtosis_moments_of(double m, double d)
{
    /* eq. 9 with N = 1; a = M d */
    const double a = m * d;
    const double m1 = m - 1.0;
    wfi_kurtosis_moments k;
    k.variance = 2.0 * m * m * d * (1.0 + d) / (m1 * (6.0 + 5.0 * a + a * a));
    const double five = (2.0 + a) * (3.0 + a) * (4.0 + a) * (5.0 + a);
    k.third =
        8.0 * m * m * m * d * (1.0 + d) * (-2.0 + d * (-5.0 + m * (4.0 + d))) / (m1 * m1 * five);
    return k;
}

void wfi_kurtosis_bounds(double n, double d, double n_sigma, double *low, double *high)
{
    const wfi_kurtosis_moments k = wfi_kurtosis_moments_of(n, d);
    const double p = wfi_normal_above(n_sigma);
    /* a shifted gamma of shape a and scale b has variance a b^2 and third moment 2 a b^3 */
    const double scale = 0.5 * k.third / k.variance;
    const double shape = k.variance / (scale * scale);
    const double shift = 1.0 - shape * scale;
    *high = shift + scale * wfi_gamma_quantile_above(shape, p);
    *low = fmax(0.0, shift + scale * wfi_gamma_quantile_above(shape, 1.0 - p));
}

double wfi_kurtosis_of_quantised(double excess, double n_fft, double parts)
{
    return 1.0 + excess / (parts * n_fft);
}
