/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random numbers that are found by their number: no state, any order, the same everywhere. */
#ifndef WFI_SIMULATE_RANDOM_H
#define WFI_SIMULATE_RANDOM_H

#include <stddef.h>
#include <stdint.h>

/** Four random words of a counter under a key.
 *
 *  source  Salmon, Moraes, Dror and Shaw 2011, "Parallel random numbers: as easy as 1, 2, 3",
 *          doi:10.1145/2063384.2063405: Philox 4x32 with 10 rounds
 */
void wfi_philox(uint32_t out[4], const uint32_t counter[4], const uint32_t key[2]);

/** Normal deviates [n], mean 0, variance 1: numbers `first` to `first + n` of a sequence.
 *
 *  Every (seed, sequence) is an own, independent sequence of 2^66 numbers. A number never depends
 *  on the division into calls. Deviates 2k and 2k + 1 come from one pair (Box and Muller 1958,
 *  doi:10.1214/aoms/1177706645); the largest magnitude is 6.66.
 */
void wfi_random_normals(float *out, size_t n, uint64_t first, uint64_t sequence, uint64_t seed);

#endif
