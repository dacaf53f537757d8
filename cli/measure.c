/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers with their errors and units, for people. */
#include "measure.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

measure_prefix measure_prefix_of(double scale)
{
    static const measure_prefix prefixes[] = {
        {"", 1}, {"m", 1e-3}, {"µ", 1e-6}, {"n", 1e-9}, {"p", 1e-12}, {"f", 1e-15}, {"a", 1e-18},
    };
    const size_t n = sizeof prefixes / sizeof prefixes[0];
    size_t i = 0;
    while (i + 1 < n && fabs(scale) < prefixes[i].factor)
        i++;
    return fabs(scale) > 0 ? prefixes[i] : prefixes[0];
}

measure_prefix measure_prefix_beside(double value, double error)
{
    return measure_prefix_of(isfinite(error) ? fmax(fabs(value), error) : value);
}

/* Decimals that show two digits of the error, within what is readable. */
static int decimals_of(double error)
{
    const int n = 1 - (int)floor(log10(error));
    return n < 0 ? 0 : n > 9 ? 9 : n;
}

/* A true minus sign, as wide as the plus. */
static void put_sign(char text[MEASURE_BYTES])
{
    static const char minus[] = "−";
    const size_t n = strlen(text);
    if (text[0] != '-' || n + sizeof minus - 1 > MEASURE_BYTES)
        return;
    memmove(text + sizeof minus - 1, text + 1, n);
    memcpy(text, minus, sizeof minus - 1);
}

void measure_format_fixed(char text[MEASURE_BYTES], double value, double error, int decimals)
{
    if (isfinite(error))
        snprintf(text, MEASURE_BYTES, "%.*f ± %.*f", decimals, value, decimals, error);
    else
        snprintf(text, MEASURE_BYTES, "–");
    put_sign(text);
}

void measure_format_plain(char text[MEASURE_BYTES], double value, double error)
{
    if (!(error == 0)) {
        measure_format_fixed(text, value, error, isfinite(error) ? decimals_of(error) : 0);
        return;
    }
    snprintf(text, MEASURE_BYTES, "%.6g", value);
    put_sign(text);
}

void measure_format_probability(char text[MEASURE_BYTES], double probability)
{
    char digits[MEASURE_BYTES];
    snprintf(digits, sizeof digits, "%.0e", probability); /* d e - dd */
    if (probability < 1e-99)
        snprintf(text, MEASURE_BYTES, "< 1e−99");
    else if (probability < 1e-3)
        snprintf(text, MEASURE_BYTES, "%ce−%d", digits[0], atoi(digits + 3));
    else
        snprintf(text, MEASURE_BYTES, "%.3f", probability);
}

void measure_format(char text[MEASURE_BYTES], double value, double error, const char *unit)
{
    if (!isfinite(error)) {
        snprintf(text, MEASURE_BYTES, "not measured");
        return;
    }
    const measure_prefix p = measure_prefix_beside(value, error);
    if (error > 0)
        snprintf(text, MEASURE_BYTES, "%.*f ± %.*f %s%s", decimals_of(error / p.factor),
                 value / p.factor, decimals_of(error / p.factor), error / p.factor, p.letter, unit);
    else
        snprintf(text, MEASURE_BYTES, "%.6g %s%s", value / p.factor, p.letter, unit);
    put_sign(text);
}
