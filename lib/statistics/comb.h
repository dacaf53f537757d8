/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tones at equal spacing, as a phase-calibration generator adds them before the receiver.
 *
 *  Tone m of a stream has the baseband frequency f_m = offset + m spacing. Its phasor is
 *  p_m = sum x exp(-2 pi i f_m t), t from a whole second of the station's clock. The samples are
 *  first turned by the offset alone and summed by their place in the comb's period, so that all
 *  tones together cost little more than one; a transform of the period's sums gives the tones.
 */
#ifndef WFI_STATISTICS_COMB_H
#define WFI_STATISTICS_COMB_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

typedef struct wfi_comb_setup {
    int64_t rate_hz;
    size_t n_parts;     /* of a sample: 1 real, 2 complex */
    int64_t spacing_hz; /* divides a whole number of seconds into pulses */
    double offset_hz;   /* baseband frequency of the lowest tone */
    size_t n_tones;     /* inside the recorded band */
    size_t period;      /* samples after which the turned comb repeats */
    size_t step;        /* periods of a tone's phase that the spacing makes of it */
} wfi_comb_setup;

/** Lay out the tones of a stream.
 *
 *  given     phase_hz  any baseband frequency at which a tone would be; 0 <= of the spacing counts
 *  returned  out       n_tones may be 0: a spacing wider than the band
 *  status    OK | UNSUPPORTED: the comb does not repeat within 2^16 samples
 */
wf_status wfi_comb_setup_init(wfi_comb_setup *out, int64_t rate_hz, size_t n_parts,
                              int64_t spacing_hz, double phase_hz, wf_error *err);

/** The same of a stream whose zero baseband frequency stands for a sky frequency, tones being at
 *  whole multiples of the spacing on the sky.
 *
 *  returned  first_number  tone number on the sky of the tone that is the lowest in baseband
 */
wf_status wfi_comb_setup_sky(wfi_comb_setup *out, int64_t *first_number, int64_t rate_hz,
                             size_t n_parts, int64_t spacing_hz, double zero_hz, int sideband,
                             wf_error *err);

/** Sums over a stretch of samples. */
typedef struct wfi_comb_sums {
    const wfi_comb_setup *setup;
    float *turn_re; /* [block] of the offset, one sample after another */
    float *turn_im;
    double *wave_re; /* [period] one turn */
    double *wave_im;
    double *sum_re; /* [period] */
    double *sum_im;
    float *block_re; /* [period] */
    float *block_im;
    size_t block; /* a multiple of the period */
    double n;     /* samples summed */
    double power; /* sum of |x|^2 */
} wfi_comb_sums;

/** given  setup  outlives the sums */
wf_status wfi_comb_sums_create(wfi_comb_sums *out, const wfi_comb_setup *setup, wf_error *err);
void wfi_comb_sums_release(wfi_comb_sums *sums);
void wfi_comb_sums_clear(wfi_comb_sums *sums);

/** Add samples.
 *
 *  given  first  number of the first sample since a whole second
 *         x      [n][n_parts]
 */
void wfi_comb_sums_add(wfi_comb_sums *sums, int64_t first, const float *x, size_t n);

/** Phasors so far: modulus sqrt(power of the tone / power of all), angle that of the tone at the
 *  whole second. In noise real and imaginary part scatter by wfi_comb_sigma each.
 *
 *  returned  tones  [n_tones]; 0 where nothing was summed
 */
void wfi_comb_tones(const wfi_comb_sums *sums, double complex *tones);
double wfi_comb_sigma(const wfi_comb_sums *sums);

/** A delay and a phase common to tones: arg p_m = phase - 2 pi m spacing delay.
 *
 *  phase_rad     at the middle tone, (n_tones - 1)/2
 *  delay_error_s infinite for fewer than two tones
 *  snr           of |sum of the aligned tones| over the sigma of a part of it
 */
typedef struct wfi_comb_fit {
    double phase_rad;
    double delay_s; /* in (-1/2, 1/2] of 1/spacing */
    double delay_error_s;
    double snr;
} wfi_comb_fit;

wfi_comb_fit wfi_comb_fit_delay(const double complex *tones, size_t n_tones, double spacing_hz,
                                double sigma);

#endif
