/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values as YAML writes them in one line. */
#include "observation/yaml_write.h"

#include <ctype.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/status.h"

/* "3.4e-06" is 3.4e-6 in what people write. */
static void shorten_exponent(char *text)
{
    char *e = strchr(text, 'e');
    if (e == NULL)
        return;
    const char *from = e + 1;
    char *to = e + 1;
    if (*from == '-')
        *to++ = *from;
    from += *from == '-' || *from == '+';
    from += strspn(from, "0");
    memmove(to, from, strlen(from) + 1);
}

static const double WHOLE_MAX = 9007199254740992.0; /* 2^53 */

void wfi_write_number(char text[WFI_NUMBER_BYTES], double value)
{
    char whole[WFI_NUMBER_BYTES] = "";
    wfi_format_double(text, value);
    shorten_exponent(text);
    if (value == floor(value) && fabs(value) < WHOLE_MAX)
        snprintf(whole, sizeof whole, "%.0f", value);
    /* 10 and 250000 by their digits, 8.4e9 not */
    if (whole[0] != '\0' && (fabs(value) < 1e6 || strlen(whole) <= strlen(text)))
        memcpy(text, whole, sizeof whole);
}

/* Decimals beyond those of wf_instant_format, of a fraction that is no short decimal. */
static void write_fraction(char *text, double fraction, int n_digits)
{
    char number[WFI_NUMBER_BYTES];
    snprintf(number, sizeof number, "%.*f", n_digits, fraction);
    const char point = localeconv()->decimal_point[0];
    char *decimals = strchr(number, point);
    if (decimals != NULL) {
        *decimals = '.';
        memcpy(text, decimals, strlen(decimals) + 1);
    }
}

void wfi_write_instant(char text[WF_INSTANT_TEXT_BYTES], wf_instant t)
{
    enum { FORMAT_DIGITS = 12, DIGITS_MAX = 20 };
    wf_instant back = {0};
    char seconds[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(seconds, t, 0);
    for (int n = 0; n <= DIGITS_MAX; n++) {
        wf_instant_format(text, t, n <= FORMAT_DIGITS ? n : 0);
        if (n > FORMAT_DIGITS)
            write_fraction(text + strlen(seconds), t.fraction, n);
        if (wf_instant_parse(&back, text, NULL) == WF_OK && back.second == t.second &&
            back.fraction == t.fraction)
            return;
    }
}

/* A time's colons are harmless: no blank follows them. */
static bool is_time_like(const char *value, size_t n)
{
    return n > 10 && isdigit((unsigned char)value[0]) && value[4] == '-' && value[7] == '-';
}

static bool needs_quotes(const char *value, size_t n)
{
    const bool dash = n > 0 && value[0] == '-' && (n < 2 || value[1] == ' ' || value[1] == '-');
    if (n == 0 || dash || value[0] == ' ' || value[n - 1] == ' ' || strcmp(value, "...") == 0)
        return true;
    for (size_t i = 0; i < n; i++) {
        const unsigned char c = (unsigned char)value[i];
        const bool harmless = isalnum(c) || (c != '\0' && strchr("_./+- ", c) != NULL) ||
                              (c == ':' && is_time_like(value, n));
        if (!harmless || c >= 0x80)
            return true;
    }
    return false;
}

static void write_double_quoted(wfi_text *out, const char *value, size_t n)
{
    wfi_text_append(out, "\"");
    for (size_t i = 0; i < n; i++) {
        const unsigned char c = (unsigned char)value[i];
        if (c == '"' || c == '\\')
            wfi_text_append(out, "\\%c", c);
        else if (c < 0x20 || c == 0x7f)
            wfi_text_append(out, "\\x%02X", c);
        else
            wfi_text_append(out, "%c", c);
    }
    wfi_text_append(out, "\"");
}

static bool is_printable(const char *value, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if ((unsigned char)value[i] < 0x20 || (unsigned char)value[i] >= 0x7f)
            return false;
    }
    return true;
}

void wfi_write_scalar(wfi_text *out, const char *value, size_t n, wfi_yaml_style style)
{
    if (style == WFI_YAML_SINGLE_QUOTED && is_printable(value, n)) {
        wfi_text_append(out, "'");
        for (size_t i = 0; i < n; i++)
            wfi_text_append(out, value[i] == '\'' ? "''" : "%c", value[i]);
        wfi_text_append(out, "'");
    } else if (style != WFI_YAML_PLAIN || needs_quotes(value, n))
        write_double_quoted(out, value, n);
    else
        wfi_text_append(out, "%.*s", (int)n, value);
}

/* Aliases of lists within lists multiply, and may hold themselves. */
enum { BYTES_MAX = 1 << 24, DEPTH_MAX = 100 };

static bool write_value(wfi_text *out, const wfi_yaml_tree *tree, size_t node, size_t depth)
{
    node = wfi_yaml_follow(tree, node);
    const wfi_yaml_node *value = &tree->nodes[node];
    if (depth > DEPTH_MAX || out->n > BYTES_MAX)
        return false;
    if (value->kind == WFI_YAML_SCALAR || value->kind == WFI_YAML_ALIAS) {
        wfi_write_scalar(out, value->text, value->n_text,
                         value->style == WFI_YAML_BLOCK ? WFI_YAML_DOUBLE_QUOTED : value->style);
        return value->kind == WFI_YAML_SCALAR;
    }
    const bool mapping = value->kind == WFI_YAML_MAPPING;
    bool is_key = mapping;
    wfi_text_append(out, mapping ? "{" : "[");
    for (size_t i = value->first; i != WFI_NO_NODE; i = tree->nodes[i].next) {
        if (!write_value(out, tree, i, depth + 1))
            return false;
        if (is_key)
            wfi_text_append(out, ": ");
        else if (tree->nodes[i].next != WFI_NO_NODE)
            wfi_text_append(out, ", ");
        is_key = mapping && !is_key;
    }
    wfi_text_append(out, mapping ? "}" : "]");
    return true;
}

wf_status wfi_write_value(wfi_text *out, const wfi_yaml_tree *tree, size_t node, wf_error *err)
{
    if (!write_value(out, tree, node, 0))
        return wfi_fail(err, WF_UNSUPPORTED,
                        "line %zu: aliases make more of it than can be written out",
                        tree->nodes[node].line);
    if (out->failed)
        return wfi_fail(err, WF_MEMORY, "out of memory for a value");
    return WF_OK;
}
