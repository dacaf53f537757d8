/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers with their errors and units, for people. */
#ifndef CLI_MEASURE_H
#define CLI_MEASURE_H

enum { MEASURE_BYTES = 64 };

/** "-12.345 ± 0.012 ns": the prefix follows the value, the digits follow the error.
 *
 *  given  error  infinite: "not measured"; 0: six digits of the value
 *         unit   such as "s" or "s/s", of value and error
 */
void measure_format(char text[MEASURE_BYTES], double value, double error, const char *unit);

/** "0.2912 ± 0.0005": as many decimals as the error asks for, without prefix and unit. */
void measure_format_plain(char text[MEASURE_BYTES], double value, double error);

/** "−114.2 ± 13.5" with so many decimals; "–" where the error is infinite. */
void measure_format_fixed(char text[MEASURE_BYTES], double value, double error, int decimals);

/** "4e−12", or "0.123". */
void measure_format_probability(char text[MEASURE_BYTES], double probability);

/** Largest prefix whose multiple of `scale` is 1 or more: "n" and 1e-9 for 12e-9. */
typedef struct measure_prefix {
    const char *letter;
    double factor;
} measure_prefix;

measure_prefix measure_prefix_of(double scale);

/** The prefix for a value and its error: that of the larger; an infinite error counts for nothing.
 */
measure_prefix measure_prefix_beside(double value, double error);

#endif
