/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Allan deviation: what its parts and their tests share. */
#ifndef WFI_FRINGE_ALLAN_H
#define WFI_FRINGE_ALLAN_H

#include <whitefringe/stability.h>

/** Overlapping Allan variance at m intervals of the phases turned into seconds.
 *
 *  returned  thermal  what sigma_rad gives in the same terms; 0 without it
 *            n_terms  second differences; with 0 the variance is 0
 */
double wfi_allan_variance(const wf_fringe_phase *phase, size_t m, double *thermal, size_t *n_terms);

/** The kind of power-law noise at m intervals.
 *
 *  returned  alpha  of S_y(f) ~ f^alpha, -2 to 2, by the lag-1 autocorrelation of every m-th phase
 *                   and of its differences; left alone where there are fewer than 30
 *  status    OK | MEMORY
 *  source    Riley and Greenhall 2004, "Power law noise identification using the lag 1
 *            autocorrelation", 18th EFTF; Riley 2008, NIST SP 1065, section 5.5
 */
wf_status wfi_allan_noise(int *alpha, const wf_fringe_phase *phase, size_t m, wf_error *err);

/** Equivalent degrees of freedom of the overlapping Allan variance, at least 1.
 *
 *  given   n       phases, m intervals an averaging time
 *  source  Howe, Allan and Barnes 1981, "Properties of signal sources and measurement methods",
 *          35th Freq. Control Symp.; the table as in Riley 2008, NIST SP 1065
 */
double wfi_allan_edf(int alpha, size_t n, size_t m);

/** Bounds of 68.3 % confidence of a variance found with so many degrees of freedom. */
void wfi_allan_interval(double *low, double *high, double variance, double edf);

#endif
