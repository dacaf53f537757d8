/* SPDX-License-Identifier: GPL-3.0-or-later */
/* HTML, written front to back. What comes from a file goes through html_text, and only there are
 * characters escaped. */
#ifndef CLI_REPORT_HTML_H
#define CLI_REPORT_HTML_H

#include "base/text.h"

/** A text for between tags and inside quoted attributes; bytes that are no UTF-8 and control
 *  characters become U+FFFD. */
void html_text(wfi_text *out, const char *text);

/** The same, put together as by printf. */
void html_textf(wfi_text *out, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** <p>, or another element, around a text. kind: class attribute, or NULL. */
void html_element(wfi_text *out, const char *name, const char *kind, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/** A table that scrolls sideways by itself where the window is too narrow.
 *
 *  caption  what it shows: for people and for screen readers
 *  heads    of the columns, separated by '|'; one that begins with '#' is of numbers
 */
void html_table_begin(wfi_text *out, const char *caption, const char *heads);
void html_table_end(wfi_text *out);
void html_row_begin(wfi_text *out);
void html_row_end(wfi_text *out);
/** The cell that names its row. */
void html_row_head(wfi_text *out, const char *format, ...) __attribute__((format(printf, 2, 3)));
/** A cell of a text, or of a number, right-aligned. */
void html_cell(wfi_text *out, const char *format, ...) __attribute__((format(printf, 2, 3)));
void html_number(wfi_text *out, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
