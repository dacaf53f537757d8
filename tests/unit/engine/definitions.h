/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What tests of kernels are made of: numbers, and the definitions in double that kernels are held
 * against. */
#ifndef TESTS_ENGINE_DEFINITIONS_H
#define TESTS_ENGINE_DEFINITIONS_H

#include <complex.h>
#include <math.h>
#include <stddef.h>
#include <stdint.h>

static const double TWO_PI = 6.283185307179586;

static inline void fill(float *x, size_t n, uint32_t seed)
{
    for (size_t i = 0; i < n; i++) {
        seed = seed * 1664525u + 1013904223u;
        x[i] = (float)(int32_t)seed / 2147483648.0f;
    }
}

static inline double complex phasor(double turns)
{
    return cexp(I * TWO_PI * (turns - rint(turns)));
}

/* A bin, whole or not, of 2 n real samples. */
static inline double complex defined_bin(const float *x, size_t n, double bin)
{
    double complex sum = 0;
    for (size_t m = 0; m < 2 * n; m++)
        sum += (double)x[m] * phasor(-bin * (double)m / (2.0 * (double)n));
    return sum;
}

#endif
