/* SPDX-License-Identifier: GPL-3.0-or-later */
/* gnuplot's SVG made ready to stand inside a page. */
#include "report/svg.h"

#include <stdio.h>
#include <string.h>

#include "plot.h"
#include "report/html.h"

/* Colours of the pictures and the page's names for them. */
static const struct {
    const char *rgb;
    const char *variable;
} COLOURS[] = {
    {PLOT_INK, "var(--ink)"},
    {PLOT_FAINT, "var(--faint)"},
    {PLOT_LINE, "var(--line)"},
    {PLOT_DIVIDER, "var(--divider)"},
    {PLOT_GRID, "var(--grid)"},
    {PLOT_FILL, "var(--fill)"},
    {PLOT_FIRST_COLOUR, "var(--first)"},
    {PLOT_SECOND_COLOUR, "var(--second)"},
};

typedef struct pattern {
    const char *text;
    const char *other;
} pattern;

static bool starts(const char *text, const char *with)
{
    return strncmp(text, with, strlen(with)) == 0;
}

/* "rgb( 28,  39,  51)" with or without blanks: a colour of the page, or as it is. */
static const char *append_colour(wfi_text *out, const char *p)
{
    int red = 0;
    int green = 0;
    int blue = 0;
    char hex[16];
    const char *end = strchr(p, ')');
    if (end == NULL || sscanf(p, "rgb( %d , %d , %d", &red, &green, &blue) != 3) {
        wfi_text_append(out, "rgb(");
        return p + strlen("rgb(");
    }
    snprintf(hex, sizeof hex, "#%02x%02x%02x", red & 255, green & 255, blue & 255);
    const char *name = hex;
    for (size_t i = 0; i < sizeof COLOURS / sizeof COLOURS[0]; i++) {
        if (strcmp(hex, COLOURS[i].rgb) == 0)
            name = COLOURS[i].variable;
    }
    wfi_text_append(out, "%s", name);
    return end + 1;
}

/* The end of an element that is left out, or NULL where p begins none. */
static const char *after_omitted(const char *p)
{
    static const pattern omitted[] = {
        {"<title>", "</title>"}, {"<desc>", "</desc>"}, {"<defs>", "</defs>"}};
    for (size_t i = 0; i < sizeof omitted / sizeof omitted[0]; i++) {
        const char *end = starts(p, omitted[i].text) ? strstr(p, omitted[i].other) : NULL;
        if (end != NULL)
            return end + strlen(omitted[i].other);
    }
    return NULL;
}

/* A group with nothing in it: its end, or NULL. */
static const char *after_empty_group(const char *p)
{
    if (!starts(p, "<g "))
        return NULL;
    const char *end = strchr(p, '>');
    if (end == NULL)
        return NULL;
    end += 1 + strspn(end + 1, " \t\n");
    return starts(end, "</g>") ? end + strlen("</g>") : NULL;
}

/* A line's end and blanks after it: one blank, or nothing between tags. */
static const char *append_space(wfi_text *out, const char *p)
{
    const char last = out->n > 0 ? out->bytes[out->n - 1] : '>';
    p += strspn(p, " \t\n");
    if (last != '>' && *p != '>' && *p != '/')
        wfi_text_append(out, " ");
    return p;
}

/* One dot of a curve, as gnuplot writes it. */
typedef struct dot {
    double x;
    double y;
    double scale;
    char colour[40];
    const char *end; /* behind it; NULL: there is none */
} dot;

static dot dot_at(const char *p)
{
    static const char HEAD[] = "<use xlink:href='#gpPt6' ";
    dot d = {0};
    p += strspn(p, " \t\n");
    const char *end = starts(p, HEAD) ? strstr(p, "/>") : NULL;
    if (end != NULL &&
        sscanf(p + sizeof HEAD - 1, "transform='translate(%lf,%lf) scale(%lf)' color='%39[^']'",
               &d.x, &d.y, &d.scale, d.colour) == 4)
        d.end = end + strlen("/>");
    return d;
}

/* Dots of one kind become one path of points with round ends: a sixth of the bytes. */
static const char *append_dots(wfi_text *out, const char *p)
{
    const dot first = dot_at(p);
    wfi_text_append(out, "<path fill='none' stroke-linecap='round' stroke-width='%.3g' stroke='",
                    2 * first.scale);
    append_colour(out, first.colour);
    wfi_text_append(out, "' d='");
    for (dot d = first; d.end != NULL && !(d.scale < first.scale || d.scale > first.scale) &&
                        strcmp(d.colour, first.colour) == 0;
         d = dot_at(p)) {
        wfi_text_append(out, "M%.1f,%.1fh0", d.x, d.y);
        p = d.end;
    }
    wfi_text_append(out, "'/>");
    return p;
}

static void append_body(wfi_text *out, const char *p)
{
    while (*p != '\0' && !starts(p, "</svg>")) {
        const char *end = after_omitted(p);
        end = end != NULL ? end : after_empty_group(p);
        if (end != NULL) {
            p = end;
        } else if (*p == '<' && dot_at(p).end != NULL) {
            p = append_dots(out, p);
        } else if (starts(p, " id=\"") || starts(p, " class=\"")) {
            const char *quote = strchr(strchr(p, '"') + 1, '"');
            p = quote != NULL ? quote + 1 : p + 1;
        } else if (starts(p, "rgb(")) {
            p = append_colour(out, p);
        } else if (starts(p, "xlink:href=")) {
            p += strlen("xlink:");
        } else if (starts(p, "\"black\"")) {
            wfi_text_append(out, "\"var(--ink)\"");
            p += strlen("\"black\"");
        } else if (starts(p, " font-family=\"sans-serif\"")) {
            p += strlen(" font-family=\"sans-serif\"");
        } else if (starts(p, " font-family=\"sans-serif:Bold\"")) {
            wfi_text_append(out, " font-weight=\"700\"");
            p += strlen(" font-family=\"sans-serif:Bold\"");
        } else if (*p == '\n' || *p == '\t') {
            p = append_space(out, p);
        } else {
            const size_t n = 1 + strcspn(p + 1, "<rx\" \n\t");
            wfi_text_append(out, "%.*s", (int)n, p);
            p += n;
        }
    }
}

bool svg_append(wfi_text *out, const char *drawn, const char *title)
{
    const char *head = strstr(drawn, "<svg");
    const char *box = head != NULL ? strstr(head, "viewBox=\"") : NULL;
    const char *body = head != NULL ? strchr(head, '>') : NULL;
    if (body == NULL || box == NULL || box > body)
        return false;
    box += strlen("viewBox=\"");
    wfi_text_append(out, "<svg viewBox=\"%.*s\" role=\"img\" aria-label=\"",
                    (int)strcspn(box, "\""), box);
    html_text(out, title);
    wfi_text_append(out, "\"><title>");
    html_text(out, title);
    wfi_text_append(out, "</title>");
    append_body(out, body + 1);
    wfi_text_append(out, "</svg>\n");
    return true;
}

/* gnuplot's point types 6 (a ring is 5 there, counted from 0: pt7 is a dot) and the dot. */
void svg_append_definitions(wfi_text *out)
{
    wfi_text_append(
        out, "<svg class=\"definitions\" aria-hidden=\"true\" width=\"0\" height=\"0\"><defs>"
             "<circle id=\"gpDot\" r=\"0.5\" stroke-width=\"0.5\" stroke=\"currentColor\"/>"
             "<path id=\"gpPt0\" stroke-width=\"0.4\" stroke=\"currentColor\" "
             "d=\"M-1,0 h2 M0,-1 v2\"/>"
             "<path id=\"gpPt1\" stroke-width=\"0.4\" stroke=\"currentColor\" "
             "d=\"M-1,-1 L1,1 M1,-1 L-1,1\"/>"
             "<circle id=\"gpPt5\" stroke-width=\"0.4\" stroke=\"currentColor\" fill=\"none\" "
             "r=\"1\"/>"
             "<circle id=\"gpPt6\" fill=\"currentColor\" r=\"1\"/></defs></svg>\n");
}
