/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The exact maximum of a stretch's Fourier sum, and the noise around it. */
#ifndef WFI_FRINGE_PEAK_H
#define WFI_FRINGE_PEAK_H

#include <whitefringe/fringe.h>

/** A trial fringe without units.
 *
 *  delay  turns from one channel to the next: channel width * delay
 *  rate   turns from one integration to the next at the middle of the band
 */
typedef struct wfi_trial {
    double delay;
    double rate;
} wfi_trial;

/** A sum and its derivatives by delay (d) and rate (r), each without its power of 2 pi i. */
typedef struct wfi_sums {
    double complex s, d, r, dd, dr, rr;
} wfi_sums;

wfi_sums wfi_peak_sums(const wf_fringe_input *input, wfi_trial trial);

/** Sum of weight * visibility, each turned back to the middle of band and stretch. */
double complex wfi_peak_sum(const wf_fringe_input *input, wfi_trial trial);

/** Climb to the maximum of |sum|.
 *
 *  given  start  within half a cell of it
 *         cell   size of a cell: the climb never leaves the cells around the start; 0 where an
 *                axis has nothing to resolve it
 */
wfi_trial wfi_peak_refine(const wf_fringe_input *input, wfi_trial start, wfi_trial cell);

/** Standard deviation of one component of the sum, from what is left without the fringe.
 *
 *  given   sum  at the trial
 *  status  OK | MEMORY
 */
wf_status wfi_peak_noise(double *sigma, const wf_fringe_input *input, wfi_trial trial,
                         double complex sum, wf_error *err);

#endif
