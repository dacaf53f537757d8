/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_fill.h"

/* One word in so many is looked at: a stretch that counts holds one of them. */
static size_t next_fill_word(const uint8_t *payload, size_t i, size_t n_words)
{
    while (i < n_words && wfi_le32(payload + 4 * i) != WFI_FILL_WORD)
        i += WFI_FILL_WORDS;
    return i;
}

bool wfi_find_fill(const uint8_t *payload, size_t n_bytes, size_t from, size_t *begin, size_t *end)
{
    const size_t n_words = n_bytes / 4;
    const size_t first = (from / 4 + WFI_FILL_WORDS - 1) / WFI_FILL_WORDS * WFI_FILL_WORDS;
    for (size_t i = next_fill_word(payload, first, n_words); i < n_words;
         i = next_fill_word(payload, i + WFI_FILL_WORDS, n_words)) {
        size_t low = i;
        size_t high = i + 1;
        while (low > from / 4 && wfi_le32(payload + 4 * (low - 1)) == WFI_FILL_WORD)
            low--;
        while (high < n_words && wfi_le32(payload + 4 * high) == WFI_FILL_WORD)
            high++;
        if (high - low < WFI_FILL_WORDS)
            continue;
        *begin = 4 * low;
        *end = 4 * high;
        return true;
    }
    return false;
}
