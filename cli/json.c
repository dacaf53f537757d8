/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One JSON value (RFC 8259), written front to back. */
#include "json.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "base/status.h"

static const char REPLACEMENT[] = "\\ufffd";

size_t json_utf8_length(const char *text)
{
    const unsigned char *p = (const unsigned char *)text;
    const size_t n = p[0] < 0x80                    ? 1
                     : p[0] >= 0xc2 && p[0] <= 0xdf ? 2
                     : p[0] >= 0xe0 && p[0] <= 0xef ? 3
                     : p[0] >= 0xf0 && p[0] <= 0xf4 ? 4
                                                    : 0;
    for (size_t i = 1; i < n; i++) {
        if ((p[i] & 0xc0) != 0x80)
            return 0;
    }
    const bool overlong = (p[0] == 0xe0 && p[1] < 0xa0) || (p[0] == 0xf0 && p[1] < 0x90);
    const bool surrogate = p[0] == 0xed && p[1] > 0x9f;
    const bool too_large = p[0] == 0xf4 && p[1] > 0x8f;
    return overlong || surrogate || too_large ? 0 : n;
}

static void append_string(wfi_text *text, const char *value)
{
    wfi_text_append(text, "\"");
    for (const char *p = value; *p != '\0';) {
        const unsigned char c = (unsigned char)*p;
        const size_t n = json_utf8_length(p);
        if (n == 0)
            wfi_text_append(text, "%s", REPLACEMENT);
        else if (c == '"' || c == '\\')
            wfi_text_append(text, "\\%c", c);
        else if (c < 0x20)
            wfi_text_append(text, "\\u%04x", c);
        else
            wfi_text_append(text, "%.*s", (int)n, p);
        p += n > 0 ? n : 1;
    }
    wfi_text_append(text, "\"");
}

/* The comma, the new line, and the key. */
static void begin_value(json *out, const char *key)
{
    if (out->depth > 0) {
        if (out->filled[out->depth])
            wfi_text_append(&out->text, ",");
        out->filled[out->depth] = true;
        wfi_text_append(&out->text, "\n%*s", 2 * out->depth, "");
    }
    if (key != NULL) {
        append_string(&out->text, key);
        wfi_text_append(&out->text, ": ");
    }
}

void json_open(json *out, const char *key, char bracket)
{
    begin_value(out, key);
    wfi_text_append(&out->text, "%c", bracket);
    if (out->depth + 1 == JSON_DEPTH_MAX) {
        out->text.failed = true;
        return;
    }
    out->depth++;
    out->filled[out->depth] = false;
    out->bracket[out->depth] = bracket;
}

void json_close(json *out)
{
    const char *closing = out->bracket[out->depth] == '{' ? "}" : "]";
    const bool filled = out->filled[out->depth];
    out->depth--;
    if (filled)
        wfi_text_append(&out->text, "\n%*s", 2 * out->depth, "");
    wfi_text_append(&out->text, "%s", closing);
}

void json_number(json *out, const char *key, double value)
{
    char text[WFI_NUMBER_BYTES] = "null";
    if (isfinite(value))
        wfi_format_double(text, value);
    begin_value(out, key);
    wfi_text_append(&out->text, "%s", text);
}

void json_count(json *out, const char *key, int64_t value)
{
    begin_value(out, key);
    wfi_text_append(&out->text, "%" PRId64, value);
}

void json_bool(json *out, const char *key, bool value)
{
    begin_value(out, key);
    wfi_text_append(&out->text, value ? "true" : "false");
}

void json_text(json *out, const char *key, const char *value)
{
    begin_value(out, key);
    if (value == NULL)
        wfi_text_append(&out->text, "null");
    else
        append_string(&out->text, value);
}

wf_status json_write(const json *value, FILE *file, wf_error *err)
{
    if (value->text.failed)
        return wfi_fail(err, WF_MEMORY, "out of memory for the JSON output");
    fwrite(value->text.bytes, 1, value->text.n, file);
    fputc('\n', file);
    return WF_OK;
}

void json_release(json *value)
{
    wfi_text_release(&value->text);
}
