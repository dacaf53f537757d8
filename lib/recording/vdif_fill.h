/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorders write the word 0x11223344 where they have lost the data (common practice), over whole
 * payloads or from one block of a disk to the next. */
#ifndef WFI_RECORDING_VDIF_FILL_H
#define WFI_RECORDING_VDIF_FILL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** So many equal words in a row prove fill: noise of 2 bits holds them once in 2^512. */
enum { WFI_FILL_WORDS = 16 };

/** The next stretch of fill in a payload from byte `from` on, in whole words.
 *
 *  returned  begin, end  bytes
 *  returns   false: there is none
 */
bool wfi_find_fill(const uint8_t *payload, size_t n_bytes, size_t from, size_t *begin, size_t *end);

#endif
