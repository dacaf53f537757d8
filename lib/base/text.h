/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and words in texts, independent of the locale. */
#ifndef WFI_BASE_TEXT_H
#define WFI_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

/** Read a decimal number that fills [text, text + n) wholly, blanks around it allowed; '.' is the
 *  decimal point in every locale. False where it is no finite number. */
bool wfi_parse_double(double *out, const char *text, size_t n);
bool wfi_parse_int64(int64_t *out, const char *text, size_t n);

/** The entry of `known` [n_known] nearest to `word` by edit distance, or NULL where none is within
 *  a third of its length. */
const char *wfi_nearest_word(const char *word, const char *const *known, size_t n_known);

/** A text that grows. Start from {0}; release it. A failure sticks: `failed` is checked once. */
typedef struct wfi_text {
    char *bytes; /* NULL while empty */
    size_t n;
    size_t capacity;
    bool failed;
} wfi_text;

void wfi_text_append(wfi_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
void wfi_text_release(wfi_text *text);

/** Write a number with the fewest digits (at most 17) that read back as the same one. */
enum { WFI_NUMBER_BYTES = 32 };
void wfi_format_double(char text[WFI_NUMBER_BYTES], double value);

#endif
