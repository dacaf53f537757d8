/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers that stand in fixed columns of a line, or between blanks. */
#ifndef WFI_DELAY_COLUMNS_H
#define WFI_DELAY_COLUMNS_H

#include "delay/line_reader.h"

/** Columns from 1, both ends included. Numbers are set flush right. */
typedef struct wfi_columns {
    size_t first;
    size_t last;
    const char *what; /* "polar motion x" */
} wfi_columns;

/** The number in these columns of the line last read, or NaN where they are blank.
 *
 *  A field that the line's end cuts would read as another number: refused.
 *  given   format  "finals2000A": stands in messages
 *  status  OK | FORMAT: file, line and columns named
 */
wf_status wfi_columns_read(const wfi_line_reader *reader, wfi_columns columns, const char *format,
                           double *value, wf_error *err);

/** Split the next word off a text that ends in a zero byte: its length, 0 at the end; *cursor moves
 *  behind it. */
size_t wfi_next_word(const char **cursor, const char **word);

/** Nothing but blanks in n bytes. */
bool wfi_is_blank(const char *text, size_t n);

#endif
