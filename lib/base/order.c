/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in order. */
#include "base/order.h"

#include <stdlib.h>

static int compare(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

void wfi_sort_ascending(double *values, size_t n)
{
    if (n > 1)
        qsort(values, n, sizeof *values, compare);
}

double wfi_median(double *values, size_t n)
{
    wfi_sort_ascending(values, n);
    return 0.5 * (values[(n - 1) / 2] + values[n / 2]);
}
