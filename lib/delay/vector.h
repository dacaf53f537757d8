/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Vectors and rotations that are only read: ERFA's prototypes lack const. */
#ifndef WFI_DELAY_VECTOR_H
#define WFI_DELAY_VECTOR_H

#include <math.h>

static inline double wfi_dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static inline double wfi_length(const double a[3])
{
    return sqrt(wfi_dot(a, a));
}

/** out = r a */
static inline void wfi_rotate(const double r[3][3], const double a[3], double out[3])
{
    for (int i = 0; i < 3; i++)
        out[i] = wfi_dot(r[i], a);
}

/** out = transpose of r, times a; out is not a */
static inline void wfi_rotate_back(const double r[3][3], const double a[3], double out[3])
{
    for (int i = 0; i < 3; i++)
        out[i] = r[0][i] * a[0] + r[1][i] * a[1] + r[2][i] * a[2];
}

#endif
