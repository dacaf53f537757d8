/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the codes of offset-binary samples stand for.
 *
 *  1 bit, and 3 bits and more: code - 2^(bits - 1) + 1/2, equal steps about zero. 2 bits: -n, -1,
 * 1, n with the outer level below.
 */
#ifndef WFI_RECORDING_LEVELS_H
#define WFI_RECORDING_LEVELS_H

/* Outer level over inner level of the four-level quantiser with the best efficiency, thresholds at
 * 0 and +-0.98159 sigma (Thompson, Moran, Swenson 2017, ch. 8, doi:10.1007/978-3-319-44431-4; the
 * four-level quantiser of Max 1960, IRE Trans. IT-6, 7, table I: 1.510 / 0.4528). */
#define WFI_OUTER_LEVEL_2BIT 3.3359

#endif
