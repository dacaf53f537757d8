/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Student's distribution for whole degrees of freedom, as finite sums. */
#include "statistics/student.h"

#include <math.h>

#include "statistics/normal.h"

enum { NORMAL_FROM = 1000, N_BISECTIONS = 200 };
static const double TWO_OVER_PI = 0.63661977236758134308;

/* Probability within -x to x; theta = atan(x / sqrt(n)). */
static double within(size_t n, double x)
{
    const double theta = atan(x / sqrt((double)n));
    const double cosine = cos(theta);
    const double square = cosine * cosine;
    const int odd = n % 2 == 1;
    double term = odd ? cosine : 1;
    double sum = n == 1 ? 0 : term;
    for (size_t k = odd ? 2 : 1; k + 2 < n; k += 2) {
        term *= square * (double)k / (double)(k + 1);
        sum += term;
    }
    return odd ? TWO_OVER_PI * (theta + sin(theta) * sum) : sin(theta) * sum;
}

double wfi_student_beyond(size_t n_freedom, double x)
{
    if (n_freedom >= NORMAL_FROM)
        return 2 * wfi_normal_above(x);
    return fmax(1 - within(n_freedom, x), 0);
}

double wfi_student_quantile_beyond(size_t n_freedom, double p)
{
    double low = 0;
    double high = 1;
    while (wfi_student_beyond(n_freedom, high) > p)
        high *= 2;
    for (int i = 0; i < N_BISECTIONS && high - low > 1e-10 * high; i++) {
        const double middle = 0.5 * (low + high);
        if (wfi_student_beyond(n_freedom, middle) > p)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}
