/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the bands' frequencies repeat. */
#include "fringe/spacing.h"

#include <math.h>

/* Distances of gigahertz carry rounding errors of microhertz; nobody sets a band to less. */
static const double SAME_HZ = 1e-3;

/* Euclid's algorithm on numbers that are nearly multiples. */
static double common_spacing(double a, double b)
{
    while (b > SAME_HZ) {
        const double rest = fabs(a - b * rint(a / b));
        a = b;
        b = rest;
    }
    return a;
}

double wfi_spacing_ambiguity(const wfi_bands *bands)
{
    double spacing_hz = 0;
    for (size_t b = 1; b < bands->n; b++)
        spacing_hz =
            common_spacing(spacing_hz, fabs(bands->band[b].middle_hz - bands->band[0].middle_hz));
    return spacing_hz > SAME_HZ ? 1 / spacing_hz : 0;
}
