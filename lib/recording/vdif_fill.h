/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorders write the word 0x11223344 where they have lost the data (common practice), over whole
 * payloads or from one block of a disk to the next. */
#ifndef WFI_RECORDING_VDIF_FILL_H
#define WFI_RECORDING_VDIF_FILL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "base/bytes.h"

#define WFI_FILL_WORD UINT32_C(0x11223344)

/** So many equal words in a row prove fill: noise of 2 bits holds them once in 2^512. */
enum { WFI_FILL_WORDS = 16 };

/** The next stretch of fill in a payload from byte `from` on, in whole words.
 *
 *  returned  begin, end  bytes
 *  returns   false: there is none
 */
bool wfi_find_fill(const uint8_t *payload, size_t n_bytes, size_t from, size_t *begin, size_t *end);

/** May there be fill in a payload? false: wfi_find_fill finds nothing in it. One word in so many is
 *  looked at, for a stretch that counts holds one of them. */
static inline bool wfi_may_hold_fill(const uint8_t *payload, size_t n_bytes)
{
    enum { STEP = 4 * WFI_FILL_WORDS };
    bool seen = false;
    for (size_t i = 0; i + 4 <= n_bytes; i += STEP)
        seen |= wfi_le32(payload + i) == WFI_FILL_WORD;
    return seen;
}

/** Copy a payload and look at it on the way; false: wfi_find_fill finds nothing in it. */
static inline bool wfi_copy_seeking_fill(uint8_t *restrict out, const uint8_t *restrict payload,
                                         size_t n_bytes)
{
    /* Lines of the copy are written whole, and each holds one word that is looked at. */
    enum { LINE = 4 * WFI_FILL_WORDS };
    size_t i = (LINE - (uintptr_t)out % LINE) % LINE / 4 * 4;
    bool seen = false;
    if (n_bytes < 2 * LINE) {
        memcpy(out, payload, n_bytes);
        return true;
    }
    memcpy(out, payload, LINE);
    for (; i + LINE <= n_bytes; i += LINE) {
        seen |= wfi_le32(payload + i) == WFI_FILL_WORD;
        memcpy(out + i, payload + i, LINE);
    }
    if (i + 4 <= n_bytes)
        seen |= wfi_le32(payload + i) == WFI_FILL_WORD;
    memcpy(out + n_bytes - LINE, payload + n_bytes - LINE, LINE);
    return seen;
}

#endif
