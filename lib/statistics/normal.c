/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The normal and the gamma distribution. */
#include "statistics/normal.h"

#include <math.h>

static const double SQRT_HALF = 0.70710678118654752;
static const double LARGEST_SIGMA = 38.0;
/* From this shape on the gamma distribution is taken from the normal one. */
static const double LARGE_SHAPE = 1e5;
static const double SMALLEST = 1e-300;
enum { N_BISECTIONS = 200, N_TERMS_MAX = 1000000 };

double wfi_normal_above(double x)
{
    return 0.5 * erfc(x * SQRT_HALF);
}

double wfi_normal_quantile_above(double p)
{
    double low = -LARGEST_SIGMA;
    double high = LARGEST_SIGMA;
    for (int i = 0; i < N_BISECTIONS && high - low > 1e-13; i++) {
        const double middle = 0.5 * (low + high);
        if (wfi_normal_above(middle) > p)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

/* x^a e^-x / Gamma(a) */
static double density_factor(double a, double x)
{
    return exp(a * log(x) - x - lgamma(a));
}

/* Probability below x, for x < a + 1. */
static double below_by_series(double a, double x)
{
    double term = 1.0 / a;
    double sum = term;
    for (int n = 1; n < N_TERMS_MAX && term > 1e-16 * sum; n++) {
        term *= x / (a + n);
        sum += term;
    }
    return sum * density_factor(a, x);
}

/* Probability above x, for x > a + 1: the continued fraction by the method of Lentz. */
static double above_by_fraction(double a, double x)
{
    double b = x + 1.0 - a;
    double c = 1.0 / SMALLEST;
    double d = 1.0 / b;
    double h = d;
    for (int n = 1; n < N_TERMS_MAX; n++) {
        const double numerator = -n * (n - a);
        b += 2.0;
        d = numerator * d + b;
        d = 1.0 / (fabs(d) < SMALLEST ? SMALLEST : d);
        c = b + numerator / c;
        c = fabs(c) < SMALLEST ? SMALLEST : c;
        h *= d * c;
        if (fabs(d * c - 1.0) < 1e-16)
            break;
    }
    return h * density_factor(a, x);
}

double wfi_gamma_above(double shape, double x)
{
    if (!(x > 0.0))
        return 1.0;
    if (shape > LARGE_SHAPE) {
        const double v = 1.0 / (9.0 * shape);
        return wfi_normal_above((cbrt(x / shape) - 1.0 + v) / sqrt(v));
    }
    return x < shape + 1.0 ? 1.0 - below_by_series(shape, x) : above_by_fraction(shape, x);
}

double wfi_gamma_quantile_above(double shape, double p)
{
    /* Wilson and Hilferty give a place near it; widen from there, then bisect. */
    const double v = 1.0 / (9.0 * shape);
    const double root = 1.0 - v + wfi_normal_quantile_above(p) * sqrt(v);
    const double guess = root > 0.0 ? shape * root * root * root : 0.0;
    double low = 0.5 * guess;
    double high = 2.0 * guess + 1.0;
    while (low > SMALLEST && wfi_gamma_above(shape, low) < p)
        low *= 0.5;
    while (wfi_gamma_above(shape, high) > p)
        high *= 2.0;
    for (int i = 0; i < N_BISECTIONS && high - low > 1e-14 * high; i++) {
        const double middle = 0.5 * (low + high);
        if (wfi_gamma_above(shape, middle) > p)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}
