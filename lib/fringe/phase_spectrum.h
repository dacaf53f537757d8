/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A tapered phase and its sinusoids. */
#ifndef WFI_FRINGE_PHASE_SPECTRUM_H
#define WFI_FRINGE_PHASE_SPECTRUM_H

#include <whitefringe/stability.h>

/** Phases less their parabola, under Hann's taper.
 *
 *  taper  [n] 0 in holes
 */
typedef struct wfi_tapered {
    size_t n;
    double *phase;
    double *taper;
    double sum;    /* of the taper */
    double square; /* of its squares */
} wfi_tapered;

/** status  OK | MEMORY; to be released in either case */
wf_status wfi_tapered_fill(wfi_tapered *in, const double *phase_rad, size_t n_times, wf_error *err);
void wfi_tapered_release(wfi_tapered *in);

/** Amplitude of a sinusoid of so many turns an interval, rad; argument: the phase of its cosine at
 *  the start of the first integration. */
double complex wfi_tapered_amplitude(const wfi_tapered *in, double turns_an_interval);

/** Standard deviation of each component of such an amplitude in noise of that density. */
double wfi_tapered_amplitude_error(const wfi_tapered *in, double density, double interval_s);

/** The line next to a frequency, turns an interval, in noise of that density. */
wf_phase_line wfi_tapered_line(const wfi_tapered *in, double turns_an_interval, double density,
                               double interval_s);

#endif
