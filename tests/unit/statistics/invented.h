/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gaussian noise with a fixed start (splitmix64, Steele, Lea, Flood 2014; Box and Muller 1958). */
#ifndef TESTS_STATISTICS_INVENTED_H
#define TESTS_STATISTICS_INVENTED_H

#include <math.h>
#include <stdint.h>

static inline double next_uniform(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return ((double)((z ^ z >> 31) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double next_normal(uint64_t *state)
{
    const double r = sqrt(-2 * log(next_uniform(state)));
    return r * cos(6.283185307179586 * next_uniform(state));
}

#endif
