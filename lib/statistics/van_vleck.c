/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For x of unit variance and a quantiser with jumps j_k at thresholds t_k, E[x q] is the sum of
 * j_k phi(t_k), phi the normal density. Both this and E[q^2] depend on the spread sigma of the
 * noise in steps alone, which follows from the measured mean square.
 */
#include "statistics/van_vleck.h"

#include <math.h>
#include <stdbool.h>

#include "recording/levels.h"

static const double TWO_OVER_PI = 0.63661977236758134;
static const double INVERSE_SQRT_2PI = 0.39894228040143268;
static const double SQRT_HALF = 0.70710678118654752;

/* Tails beyond this many sigma are below 1e-18. */
static const double TAIL_SIGMA = 9.0;

/* Finest uniform quantiser that is summed level by level. */
enum { SUMMED_BITS_MAX = 10, N_BISECTIONS = 60 };

static double density(double x)
{
    return INVERSE_SQRT_2PI * exp(-0.5 * x * x);
}

/* Probability of |x| > t. */
static double outside(double t)
{
    return erfc(t * SQRT_HALF);
}

/* Equal steps of 1, as many levels on either side of zero. */
typedef struct uniform {
    double first_threshold;   /* lowest positive one: 1 (levels at halves) or 1/2 (at integers) */
    double n_thresholds;      /* positive ones */
    double least_mean_square; /* sigma -> 0 */
} uniform;

typedef struct moments {
    double cross;       /* E[x q], x of unit variance */
    double mean_square; /* E[q^2] */
} moments;

static moments uniform_moments(const uniform *u, double sigma)
{
    const bool has_level_at_zero = u->first_threshold < 1.0;
    moments m = {has_level_at_zero ? 0.0 : density(0.0), u->least_mean_square};
    for (double k = 0; k < u->n_thresholds; k++) {
        const double threshold = u->first_threshold + k;
        const double t = threshold / sigma;
        if (t > TAIL_SIGMA)
            break;
        m.cross += 2.0 * density(t);
        /* (threshold + 1/2)^2 - (threshold - 1/2)^2 = 2 threshold */
        m.mean_square += 2.0 * threshold * outside(t);
    }
    return m;
}

/* The mean square grows with sigma: bisect the logarithm. */
static double uniform_sigma(const uniform *u, double mean_square)
{
    /* Samples that are nearly all zero tell nothing: not less than 6 in 10 million that are not. */
    double low = log(u->first_threshold / (u->least_mean_square > 0.0 ? TAIL_SIGMA : 5.0));
    double high = mean_square < 1.0 ? log(2.0) : log((u->n_thresholds + 1.0) * 1e4);
    for (int i = 0; i < N_BISECTIONS && high - low > 1e-12; i++) {
        const double middle = 0.5 * (low + high);
        if (uniform_moments(u, exp(middle)).mean_square < mean_square)
            low = middle;
        else
            high = middle;
    }
    return exp(0.5 * (low + high));
}

static uniform uniform_of(wf_encoding encoding, unsigned bits)
{
    const double n_thresholds = ldexp(1.0, (int)bits - 1) - 1.0;
    if (encoding == WF_ENCODING_SIGNED)
        return (uniform){0.5, n_thresholds, 0.0};
    return (uniform){1.0, n_thresholds, 0.25};
}

static double outermost_level(const uniform *u)
{
    return u->first_threshold + u->n_thresholds - 0.5;
}

static double uniform_efficiency(wf_encoding encoding, unsigned bits, double mean_square)
{
    uniform u = uniform_of(encoding, bits);
    /* Many levels, none clipped: the steps add a noise of 1/12 (Sheppard's correction; what it
     * leaves out is of order exp(-2 pi^2 sigma^2)). */
    const double variance = mean_square - 1.0 / 12.0;
    if (mean_square >= 1.0 && TAIL_SIGMA * sqrt(variance) < u.n_thresholds)
        return variance / mean_square;
    /* Many levels, clipped: one sigma spans so many of them that coarser steps will do. */
    if (bits > SUMMED_BITS_MAX && mean_square >= 1.0) {
        const double fine = outermost_level(&u);
        u = uniform_of(WF_ENCODING_OFFSET_BINARY, SUMMED_BITS_MAX);
        const double scale = outermost_level(&u) / fine;
        mean_square *= scale * scale;
    }
    const moments m = uniform_moments(&u, uniform_sigma(&u, mean_square));
    return m.cross * m.cross / m.mean_square;
}

/* Threshold, in sigma, beyond which the fraction f of |x| lies. */
static double threshold_of_outside(double f)
{
    double low = 0.0;
    double high = TAIL_SIGMA;
    for (int i = 0; i < N_BISECTIONS; i++) {
        const double middle = 0.5 * (low + high);
        if (outside(middle) > f)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

static double four_level_efficiency(double mean_square)
{
    const double n = WFI_OUTER_LEVEL_2BIT;
    const double f = fmin(fmax((mean_square - 1.0) / (n * n - 1.0), 0.0), 1.0);
    const double v0 = threshold_of_outside(f);
    const double cross = 2.0 * density(0.0) + 2.0 * (n - 1.0) * density(v0);
    return cross * cross / (1.0 + f * (n * n - 1.0));
}

double wfi_quantisation_efficiency(wf_sample_format format, double mean_square)
{
    if (format.encoding == WF_ENCODING_FLOAT)
        return 1.0;
    /* what is no number counts as the least */
    const double component = fmax(0.0, format.is_complex ? 0.5 * mean_square : mean_square);
    if (format.encoding == WF_ENCODING_OFFSET_BINARY && format.bits == 1)
        return TWO_OVER_PI;
    if (format.encoding == WF_ENCODING_OFFSET_BINARY && format.bits == 2)
        return four_level_efficiency(component);
    const unsigned bits = format.sampler_bits != 0 ? format.sampler_bits : format.bits;
    return uniform_efficiency(format.encoding, bits, component);
}
