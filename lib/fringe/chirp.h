/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fourier sums on any even lattice of turns, at the price of a few transforms. */
#ifndef WFI_FRINGE_CHIRP_H
#define WFI_FRINGE_CHIRP_H

#include <complex.h>
#include <stddef.h>
#include <whitefringe/status.h>

/** out[m] = sum over n of in[n] exp(2 pi i (n - middle) (first + m step)), middle = (n_in - 1)/2.
 *
 *  Chirps make a convolution of the sum (Bluestein 1970, IEEE Trans. Audio Electroacoust. 18,
 *  451); where 1 / step is a whole number that a transform likes, the transform alone does. */
typedef struct wfi_chirp wfi_chirp;

/** given  first, step  turns, step > 0 */
wf_status wfi_chirp_create(wfi_chirp **out, size_t n_in, size_t n_out, double first, double step,
                           wf_error *err);
void wfi_chirp_destroy(wfi_chirp *chirp);

/** in [n_in], out [n_out]; one thread at a time for one chirp. */
void wfi_chirp_execute(wfi_chirp *chirp, const float complex *in, float complex *out);

#endif
