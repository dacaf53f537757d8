/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One JSON value, written front to back. */
#ifndef CLI_JSON_H
#define CLI_JSON_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "base/text.h"

enum { JSON_DEPTH_MAX = 16 };

/** Start from {0}; release it. */
typedef struct json {
    wfi_text text;
    int depth;
    bool filled[JSON_DEPTH_MAX]; /* something stands in the object or array of this depth */
    char bracket[JSON_DEPTH_MAX];
} json;

/** Open an object '{' or an array '['. key: NULL inside arrays and for the outermost value. */
void json_open(json *out, const char *key, char bracket);
/** Close what was opened last. */
void json_close(json *out);
/** A number with the digits that bring it back; null where it is not finite. */
void json_number(json *out, const char *key, double value);
void json_count(json *out, const char *key, int64_t value);
void json_bool(json *out, const char *key, bool value);
/** A text; bytes that are no UTF-8 become U+FFFD. NULL becomes null. */
void json_text(json *out, const char *key, const char *value);

/** Length of the well-formed UTF-8 character (RFC 3629) at p, 0 where there is none. */
size_t json_utf8_length(const char *text);

/** Write the value and a line's end. */
wf_status json_write(const json *value, FILE *file, wf_error *err);
void json_release(json *value);

#endif
