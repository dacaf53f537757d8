/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parabola of a phase, by polynomials that are orthogonal over its valid times. */
#include "fringe/phase_trend.h"

#include <math.h>

enum { DEGREE = 2 };

/* p_k+1 = (u - shift_k) p_k - factor_k p_k-1, u from -1 to 1. */
typedef struct recurrence {
    double shift[DEGREE + 1];
    double factor[DEGREE + 1];
} recurrence;

static double abscissa(size_t i, size_t n)
{
    return 2 * (double)i / (double)n - 1;
}

static double polynomial(const recurrence *r, int degree, double u)
{
    double p = 1;
    double below = 0;
    for (int k = 0; k < degree; k++) {
        const double next = (u - r->shift[k]) * p - r->factor[k] * below;
        below = p;
        p = next;
    }
    return p;
}

void wfi_phase_subtract_parabola(double *x, size_t n)
{
    recurrence r = {0};
    double norm_below = 1;
    for (int degree = 0; degree <= DEGREE; degree++) {
        double norm = 0;
        double moment = 0;
        double product = 0;
        for (size_t i = 0; i < n; i++) {
            const double u = abscissa(i, n);
            const double p = polynomial(&r, degree, u);
            norm += isnan(x[i]) ? 0 : p * p;
            moment += isnan(x[i]) ? 0 : u * p * p;
            product += isnan(x[i]) ? 0 : p * x[i];
        }
        if (!(norm > 1e-12)) /* fewer phases than coefficients */
            return;
        for (size_t i = 0; i < n; i++)
            x[i] -= product / norm * polynomial(&r, degree, abscissa(i, n));
        r.shift[degree] = moment / norm;
        r.factor[degree] = norm / norm_below;
        norm_below = norm;
    }
}
