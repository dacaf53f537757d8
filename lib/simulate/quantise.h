/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the analogue voltage to the codes of a sampler, and codes into packed words. */
#ifndef WFI_SIMULATE_QUANTISE_H
#define WFI_SIMULATE_QUANTISE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** Whether a sampler of so many bits is known: 1, 2, 4, 8 or 16. */
bool wfi_quantiser_knows(unsigned bits);

/** Step between neighbouring thresholds, in standard deviations of the input. */
double wfi_quantiser_step(unsigned bits);

/** Offset-binary codes of voltages.
 *
 *  given     volts  [n]; standard deviation `sigma`
 *  returned  codes  [n], 0 ... 2^bits - 1; 0 the most negative
 */
void wfi_quantise(uint16_t *codes, const float *volts, size_t n, unsigned bits, float sigma);

/** Write the codes of one channel into packed complete samples.
 *
 *  given     codes   [n][parts]; parts 2: real and imaginary
 *            first   place of the first, counted in channels of complete samples
 *            stride  to the next: channels of a complete sample
 *  returned  bytes   from the lowest bits upwards; the bits written are 0 before
 */
void wfi_pack(uint8_t *bytes, const uint16_t *codes, size_t n, unsigned bits, size_t parts,
              size_t first, size_t stride);

#endif
