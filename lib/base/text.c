/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and words in texts, independent of the locale. */
#include "base/text.h"

#include <ctype.h>
#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"

enum { NUMBER_LENGTH_MAX = 64, WORD_LENGTH_MAX = 64 };

/* Copy a number without the blanks around it, its point as the locale wants it: strtod knows no
 * other, and to set the locale would change the caller's program. */
static bool localised_number(char copy[NUMBER_LENGTH_MAX], const char *text, size_t n)
{
    while (n > 0 && isspace((unsigned char)text[0])) {
        text++;
        n--;
    }
    while (n > 0 && isspace((unsigned char)text[n - 1]))
        n--;
    const char *point = localeconv()->decimal_point;
    if (n == 0 || n >= NUMBER_LENGTH_MAX || strlen(point) != 1)
        return false;
    for (size_t i = 0; i < n; i++) {
        if (strchr("+-.0123456789eE", text[i]) == NULL || text[i] == '\0')
            return false;
        copy[i] = text[i] == '.' ? point[0] : text[i];
    }
    copy[n] = '\0';
    return true;
}

bool wfi_parse_double(double *out, const char *text, size_t n)
{
    char copy[NUMBER_LENGTH_MAX];
    if (!localised_number(copy, text, n))
        return false;
    char *end = NULL;
    const double value = strtod(copy, &end);
    if (*end != '\0' || !isfinite(value))
        return false;
    *out = value;
    return true;
}

bool wfi_parse_int64(int64_t *out, const char *text, size_t n)
{
    char copy[NUMBER_LENGTH_MAX];
    if (!localised_number(copy, text, n))
        return false;
    char *end = NULL;
    errno = 0;
    const long long value = strtoll(copy, &end, 10);
    if (*end != '\0' || end == copy || errno != 0)
        return false;
    *out = value;
    return true;
}

static size_t least(size_t a, size_t b, size_t c)
{
    const size_t ab = a < b ? a : b;
    return ab < c ? ab : c;
}

/* Levenshtein's distance, one row of the table at a time. */
static size_t edit_distance(const char *a, const char *b)
{
    const size_t n_a = strlen(a);
    const size_t n_b = strlen(b);
    if (n_a > WORD_LENGTH_MAX || n_b > WORD_LENGTH_MAX)
        return SIZE_MAX;
    size_t row[WORD_LENGTH_MAX + 1];
    for (size_t j = 0; j <= n_b; j++)
        row[j] = j;
    for (size_t i = 1; i <= n_a; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= n_b; j++) {
            const size_t above = row[j];
            row[j] = least(above + 1, row[j - 1] + 1, diagonal + (a[i - 1] != b[j - 1]));
            diagonal = above;
        }
    }
    return row[n_b];
}

const char *wfi_nearest_word(const char *word, const char *const *known, size_t n_known)
{
    const char *nearest = NULL;
    size_t nearest_distance = SIZE_MAX;
    for (size_t i = 0; i < n_known; i++) {
        const size_t distance = edit_distance(word, known[i]);
        if (distance < nearest_distance) {
            nearest_distance = distance;
            nearest = known[i];
        }
    }
    if (nearest == NULL || nearest_distance > 1 + strlen(nearest) / 3 ||
        nearest_distance >= strlen(nearest)) /* nothing in common */
        return NULL;
    return nearest;
}

void wfi_text_append(wfi_text *text, const char *format, ...)
{
    if (text->failed)
        return;
    va_list arguments;
    va_list again;
    va_start(arguments, format);
    va_copy(again, arguments);
    const int n = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (n < 0 || wfi_array_reserve(&text->bytes, &text->capacity, text->n + (size_t)n + 1, 1,
                                   "a text", NULL) != WF_OK) {
        text->failed = true;
    } else {
        vsnprintf(text->bytes + text->n, (size_t)n + 1, format, again);
        text->n += (size_t)n;
    }
    va_end(again);
}

void wfi_text_release(wfi_text *text)
{
    wfi_free(text->bytes);
    *text = (wfi_text){0};
}

void wfi_format_double(char text[WFI_NUMBER_BYTES], double value)
{
    for (int digits = 1; digits <= 17; digits++) {
        snprintf(text, WFI_NUMBER_BYTES, "%.*g", digits, value);
        if (strtod(text, NULL) == value)
            break;
    }
    const char point = localeconv()->decimal_point[0];
    for (char *p = text; point != '.' && *p != '\0'; p++) {
        if (*p == point)
            *p = '.';
    }
}
