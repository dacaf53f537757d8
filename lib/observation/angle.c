/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Angles as people write them. */
#include "observation/angle.h"

#include <ctype.h>
#include <erfam.h>
#include <stddef.h>
#include <string.h>

#include "base/text.h"

/* Seconds of a full circle, of time and of arc. */
static const double CIRCLE_S = 86400.0;
static const double CIRCLE_ARCSEC = 1296000.0;

/* Read one to three digits. */
static bool read_whole(const char **p, double *value)
{
    const size_t n = strspn(*p, "0123456789");
    const bool read = n >= 1 && n <= 3 && wfi_parse_double(value, *p, n);
    *p += n;
    return read;
}

/* One mark of `letter`, colon or blanks ends a part; all of one text are of the same kind. */
static bool skip_mark(const char **p, char letter, char *kind)
{
    const char mark = **p == letter ? 'l' : **p;
    if ((mark != 'l' && mark != ':' && mark != ' ') || (*kind != '\0' && mark != *kind))
        return false;
    *kind = mark;
    (*p)++;
    while (mark == ' ' && **p == ' ')
        (*p)++;
    return true;
}

/* The parts of an unsigned angle in seconds of its least unit. */
static bool read_parts(const char *p, char first_letter, double *seconds)
{
    double whole = 0;
    double minutes = 0;
    double rest = 0;
    char kind = '\0';
    if (!read_whole(&p, &whole) || !skip_mark(&p, first_letter, &kind) ||
        !read_whole(&p, &minutes) || !skip_mark(&p, 'm', &kind))
        return false;
    const size_t n = strspn(p, "0123456789.");
    if (!isdigit((unsigned char)*p) || !wfi_parse_double(&rest, p, n))
        return false;
    p += n;
    if (kind == 'l' && *p++ != 's')
        return false;
    *seconds = 3600.0 * whole + 60.0 * minutes + rest;
    return *p == '\0' && minutes < 60.0 && rest < 60.0;
}

bool wfi_parse_hms(double *angle_rad, const char *text)
{
    double seconds = 0;
    if (!read_parts(text, 'h', &seconds) || seconds >= CIRCLE_S)
        return false;
    *angle_rad = seconds / CIRCLE_S * ERFA_D2PI;
    return true;
}

bool wfi_parse_dms(double *angle_rad, const char *text)
{
    const bool negative = text[0] == '-';
    const char *p = text + (text[0] == '-' || text[0] == '+');
    double seconds = 0;
    if (!read_parts(p, 'd', &seconds) || seconds > CIRCLE_ARCSEC / 4.0)
        return false;
    const double angle = seconds / CIRCLE_ARCSEC * ERFA_D2PI;
    *angle_rad = negative ? -angle : angle;
    return true;
}
