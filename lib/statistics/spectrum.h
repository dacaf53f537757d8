/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Power spectra of one stream: sums of |X|^2 and |X|^4 over transforms that follow one another. */
#ifndef WFI_STATISTICS_SPECTRUM_H
#define WFI_STATISTICS_SPECTRUM_H

#include <fftw3.h>
#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/status.h>

/** A transform of the samples, planned once; any number of threads use it with their own sums. */
typedef struct wfi_spectrum_plan {
    size_t n_parts;  /* of a sample: 1 real, 2 complex */
    size_t n_fft;    /* samples of a transform; even */
    size_t n_bins;   /* n_fft/2 of real samples (the last bin, of half the width, is dropped), or
                        n_fft */
    size_t n_padded; /* n_fft, or more: the samples are followed by zeros */
    float *window;   /* [n_fft] NULL: none */
    fftwf_plan transform;
} wfi_spectrum_plan;

typedef enum wfi_spectrum_window { WFI_WINDOW_NONE, WFI_WINDOW_HANN } wfi_spectrum_window;

/** given  n_padded  n_fft, or more for spectra whose transform is an autocorrelation without
 *                   wrapping; bins are then n_padded/2 or n_padded */
wf_status wfi_spectrum_plan_create(wfi_spectrum_plan *out, size_t n_parts, size_t n_fft,
                                   size_t n_padded, wfi_spectrum_window window, wf_error *err);
void wfi_spectrum_plan_release(wfi_spectrum_plan *plan);

/** Sums over transforms; bins ascend in baseband frequency, those of complex samples from -1/2 of
 *  the sample rate. */
typedef struct wfi_spectrum_sums {
    const wfi_spectrum_plan *plan;
    float *samples;
    fftwf_complex *bins;
    double *power;        /* [n_bins] sum of |X|^2 */
    double *power_square; /* [n_bins] sum of |X|^4 */
    double n;             /* transforms */
} wfi_spectrum_sums;

wf_status wfi_spectrum_sums_create(wfi_spectrum_sums *out, const wfi_spectrum_plan *plan,
                                   wf_error *err);
void wfi_spectrum_sums_release(wfi_spectrum_sums *sums);
void wfi_spectrum_sums_clear(wfi_spectrum_sums *sums);

/** Add one transform. x: [n_fft][n_parts] */
void wfi_spectrum_add(wfi_spectrum_sums *sums, const float *x);

#endif
