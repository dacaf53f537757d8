/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectral kurtosis: does the power of a channel scatter as that of Gaussian noise? */
#include "statistics/kurtosis.h"

#include <math.h>
#include <stdbool.h>

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
    const double inner =
        24.0 +
        d * (48.0 + 84.0 * d +
             m * (-32.0 + d * (-245.0 - 93.0 * d + m * (125.0 + d * (68.0 + m + (3.0 + m) * d)))));
    k.fourth = 12.0 * m * m * m * m * d * (1.0 + d) * inner /
               (m1 * m1 * m1 * five * (6.0 + a) * (7.0 + a));
    return k;
}

/* Pearson's type IV in the angle of its argument: x = place + width tan(angle), density
 * cos(angle)^(2 power - 2) exp(-skew angle). */
typedef struct pearson {
    double power;
    double skew;
    double width;
    double place;
} pearson;

static bool pearson_of(pearson *out, const wfi_kurtosis_moments *k)
{
    const double b1 = k->third * k->third / (k->variance * k->variance * k->variance);
    const double b2 = k->fourth / (k->variance * k->variance);
    const double r = 6.0 * (b2 - b1 - 1.0) / (2.0 * b2 - 3.0 * b1 - 6.0);
    const double rest = 16.0 * (r - 1.0) - b1 * (r - 2.0) * (r - 2.0);
    if (!(r > 2.0) || !(rest > 0.0))
        return false;
    out->power = 0.5 * (r + 2.0);
    out->skew = -r * (r - 2.0) * sqrt(b1 / rest);
    out->width = 0.25 * sqrt(k->variance * rest);
    out->place = 1.0 - 0.25 * (r - 2.0) * sqrt(b1 * k->variance);
    return true;
}

static double log_density(const pearson *p, double angle)
{
    return (2.0 * p->power - 2.0) * log(cos(angle)) - p->skew * angle;
}

/* The value beyond which, from one end of all angles, lies the part `tail` of the probability. */
static double pearson_quantile(const pearson *p, double tail, double from_end)
{
    enum { N_STEPS = 40000 };
    const double step = 3.14159265358979324 / N_STEPS;
    const double top = log_density(p, atan(-p->skew / (2.0 * p->power - 2.0)));
    double whole = 0;
    for (int i = 0; i < N_STEPS; i++)
        whole += exp(log_density(p, ((double)i + 0.5 - N_STEPS / 2) * step) - top);
    double sum = 0;
    for (int i = 0; i < N_STEPS; i++) {
        const double angle = from_end * (N_STEPS / 2 - (double)i - 0.5) * step;
        const double part = exp(log_density(p, angle) - top);
        if (sum + part >= tail * whole) {
            const double left = (tail * whole - sum) / part - 0.5;
            return p->place + p->width * tan(angle - from_end * left * step);
        }
        sum += part;
    }
    return p->place;
}

void wfi_kurtosis_bounds(double n, double d, double n_sigma, double *low, double *high)
{
    const wfi_kurtosis_moments k = wfi_kurtosis_moments_of(n, d);
    const double tail = wfi_normal_above(n_sigma);
    pearson p;
    if (pearson_of(&p, &k)) {
        *low = fmax(0.0, pearson_quantile(&p, tail, -1.0));
        *high = pearson_quantile(&p, tail, 1.0);
        return;
    }
    /* a shifted gamma of shape a and scale b has variance a b^2 and third moment 2 a b^3 */
    const double scale = 0.5 * k.third / k.variance;
    const double shape = k.variance / (scale * scale);
    *low = 0.0;
    *high = 1.0 + scale * (wfi_gamma_quantile_above(shape, tail) - shape);
}

double wfi_kurtosis_of_quantised(double excess, double n_fft, double parts)
{
    return 1.0 + excess / (parts * n_fft);
}
