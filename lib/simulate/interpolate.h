/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values of a sampled, band-limited function between its samples. */
#ifndef WFI_SIMULATE_INTERPOLATE_H
#define WFI_SIMULATE_INTERPOLATE_H

#include <complex.h>
#include <stddef.h>
#include <whitefringe/status.h>

/** Samples that a value is made of; those from floor(position) - WFI_INTERPOLATION_BEFORE to
 *  floor(position) + WFI_INTERPOLATION_AFTER. */
enum {
    WFI_INTERPOLATION_TAPS = 16,
    WFI_INTERPOLATION_BEFORE = WFI_INTERPOLATION_TAPS / 2 - 1,
    WFI_INTERPOLATION_AFTER = WFI_INTERPOLATION_TAPS / 2,
};

/** A Kaiser-windowed sinc, tabulated finely. Immutable. */
typedef struct wfi_interpolator wfi_interpolator;

wf_status wfi_interpolator_create(wfi_interpolator **out, wf_error *err);
void wfi_interpolator_destroy(wfi_interpolator *interpolator);

/** Values at position + k * step, k = 0 ... n - 1, in samples from samples[0].
 *
 *  given     samples  reach WFI_INTERPOLATION_BEFORE before the first floor(position) and
 *                     WFI_INTERPOLATION_AFTER beyond the last
 *            position >= WFI_INTERPOLATION_BEFORE, and so is the last one
 *  returned  out      [n]
 *  accuracy  for a signal inside |frequency| <= 1/4 of the sample rate: 3e-5 of its amplitude
 */
void wfi_interpolate(const wfi_interpolator *interpolator, const float complex *samples,
                     double position, double step, size_t n, float complex *out);

#endif
