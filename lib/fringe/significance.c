/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How often noise alone makes a fringe. */
#include "fringe/significance.h"

#include <math.h>

#include "base/turns.h"

/* Probability that one point exceeds u: exp(-u/2) sum of (u/2)^j / j!, j < n. */
static double point(double u, size_t n)
{
    double term = exp(-0.5 * u);
    double sum = term;
    for (size_t j = 1; j < n; j++) {
        term *= 0.5 * u / (double)j;
        sum += term;
    }
    return fmin(sum, 1);
}

/* u^((k - d)/2) exp(-u/2) / (2^((k - 2)/2) Gamma(k/2) (2 pi)^(d/2)) of k = 2 n degrees. */
static double density(double u, size_t n, int dimension)
{
    const double k = 2 * (double)n;
    return exp(0.5 * (k - dimension) * log(u) - 0.5 * u - (0.5 * k - 1) * log(2) - lgamma(0.5 * k) -
               0.5 * dimension * log(WFI_RAD_PER_TURN));
}

/* Crossings of a unit of length; below its maximum, where crossings no longer count excursions, it
 * stays there. */
static double line(double u, size_t n)
{
    return density(fmax(u, 2 * (double)n - 1), n, 1);
}

static double area(double u, size_t n)
{
    const double k = 2 * (double)n;
    /* the maximum of u^(k/2 - 1) exp(-u/2) (u - k + 1): roots of u^2 - (2 k - 1) u + (k-1)(k-2) */
    const double b = 2 * k - 1;
    const double top = 0.5 * (b + sqrt(b * b - 4 * (k - 1) * (k - 2)));
    const double v = fmax(u, top);
    return density(v, n, 2) * (v - k + 1);
}

double wfi_false_alarm(double power, size_t n, const wfi_searched *searched)
{
    if (!(power > 0))
        return 1;
    if (isinf(power))
        return 0;
    const double *w = searched->width;
    const int *cyclic = searched->is_cyclic;
    const double lines = (cyclic[1] ? 0 : w[0]) + (cyclic[0] ? 0 : w[1]);
    const double areas =
        w[0] * w[1] * sqrt(fmax(1 - searched->correlation * searched->correlation, 0));
    const double f = searched->freedom;
    const double u = f > 0 ? f * log1p(power / f) : power;
    const double share = searched->share > 0 ? searched->share : 1;
    const double excursions = share * (lines * line(u, n) + areas * area(u, n));
    const double at_corner = cyclic[0] || cyclic[1] ? 0 : point(u, n);
    return -expm1(-excursions + log1p(-fmin(at_corner, 1 - 1e-16)));
}
