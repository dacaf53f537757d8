/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Student's distribution: deviations in units of a spread that is itself estimated. */
#ifndef WFI_STATISTICS_STUDENT_H
#define WFI_STATISTICS_STUDENT_H

#include <stddef.h>

/** Probability that |t| of n_freedom >= 1 degrees of freedom exceeds x >= 0.
 *
 *  accuracy  1e-14 absolute; from 1000 degrees of freedom on the normal distribution's
 *  source    Abramowitz and Stegun 1964, 26.7.3 and 26.7.4
 */
double wfi_student_beyond(size_t n_freedom, double x);

/** x with wfi_student_beyond(n_freedom, x) = p, 1e-12 < p < 1; to 1e-9 of it. */
double wfi_student_quantile_beyond(size_t n_freedom, double p);

#endif
