/* SPDX-License-Identifier: GPL-3.0-or-later */
/* HTML, written front to back. */
#include "report/html.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "json.h"

enum { TEXT_BYTES = 1024, HEAD_BYTES = 80 };

static const char *entity_of(char c)
{
    switch (c) {
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '&':
        return "&amp;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

void html_text(wfi_text *out, const char *text)
{
    for (const char *p = text; *p != '\0';) {
        const size_t n = json_utf8_length(p);
        const char *entity = entity_of(*p);
        if (entity != NULL)
            wfi_text_append(out, "%s", entity);
        else if (n == 0 || (unsigned char)*p < 0x20 || *p == 0x7f)
            wfi_text_append(out, "\xef\xbf\xbd");
        else
            wfi_text_append(out, "%.*s", (int)n, p);
        p += n > 0 ? n : 1;
    }
}

static void append_formatted(wfi_text *out, const char *format, va_list arguments)
    __attribute__((format(printf, 2, 0)));

static void append_formatted(wfi_text *out, const char *format, va_list arguments)
{
    char text[TEXT_BYTES];
    vsnprintf(text, sizeof text, format, arguments);
    html_text(out, text);
}

void html_textf(wfi_text *out, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    append_formatted(out, format, arguments);
    va_end(arguments);
}

void html_element(wfi_text *out, const char *name, const char *kind, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    wfi_text_append(out, "<%s", name);
    if (kind != NULL)
        wfi_text_append(out, " class=\"%s\"", kind);
    wfi_text_append(out, ">");
    append_formatted(out, format, arguments);
    wfi_text_append(out, "</%s>\n", name);
    va_end(arguments);
}

void html_table_begin(wfi_text *out, const char *caption, const char *heads)
{
    wfi_text_append(out, "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"");
    html_text(out, caption);
    wfi_text_append(out, "\">\n<table>\n<caption>");
    html_text(out, caption);
    wfi_text_append(out, "</caption>\n<thead><tr>");
    while (*heads != '\0') {
        char head[HEAD_BYTES];
        const size_t n = strcspn(heads, "|");
        const bool number = *heads == '#';
        snprintf(head, sizeof head, "%.*s", (int)(n - number), heads + number);
        wfi_text_append(out, "<th scope=\"col\"%s>", number ? " class=\"number\"" : "");
        html_text(out, head);
        wfi_text_append(out, "</th>");
        heads += n + (heads[n] == '|');
    }
    wfi_text_append(out, "</tr></thead>\n<tbody>\n");
}

void html_table_end(wfi_text *out)
{
    wfi_text_append(out, "</tbody>\n</table>\n</div>\n");
}

void html_row_begin(wfi_text *out)
{
    wfi_text_append(out, "<tr>");
}

void html_row_end(wfi_text *out)
{
    wfi_text_append(out, "</tr>\n");
}

void html_row_head(wfi_text *out, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    wfi_text_append(out, "<th scope=\"row\">");
    append_formatted(out, format, arguments);
    wfi_text_append(out, "</th>");
    va_end(arguments);
}

void html_cell(wfi_text *out, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    wfi_text_append(out, "<td>");
    append_formatted(out, format, arguments);
    wfi_text_append(out, "</td>");
    va_end(arguments);
}

void html_number(wfi_text *out, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    wfi_text_append(out, "<td class=\"number\">");
    append_formatted(out, format, arguments);
    wfi_text_append(out, "</td>");
    va_end(arguments);
}
