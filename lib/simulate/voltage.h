/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one stream of one station hears: the sky through its delay, clock and mixer, and the noise
 * of its own receiver. */
#ifndef WFI_SIMULATE_VOLTAGE_H
#define WFI_SIMULATE_VOLTAGE_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/delay.h>
#include <whitefringe/observation.h>

#include "simulate/common_noise.h"
#include "simulate/interpolate.h"

/** One component of the sky in one range of frequency, as it reaches one stream. */
typedef struct wfi_ray {
    wfi_noise *noise;      /* the stream's own; its window moves with the stream */
    const wf_track *track; /* of the component's direction, true clock included */
    double gain;           /* of the amplitude */
} wfi_ray;

typedef struct wfi_receiver {
    double zero_hz; /* sky frequency at zero baseband frequency */
    wf_sideband sideband;
    bool is_complex;
    int64_t sample_rate_hz;
    uint64_t seed;
    uint64_t identity; /* of this receiver's noise among all random sequences */
} wfi_receiver;

/** Samples in one stretch of linear delay: wfi_voltage works through so many at a time. */
enum { WFI_STRETCH_SAMPLES = 256 };

/** Voltages of a stream, with the sky in them or with receiver noise alone.
 *
 *  given     rays          [n_rays]
 *            noise_power   variance of the receiver's own noise
 *            second        SI seconds since 2000-01-01T00:00:00 UTC, by the station's clock
 *            first, n      samples [first, first + n) of that second and the following ones
 *  returned  volts         [n], complex [n][2]; the complex voltage's variance is that of a real
 *                          one, so either part has half of it
 *  accuracy  of the phase: 1e-5 turn at 230 GHz, given the track
 */
void wfi_voltage(float *volts, const wfi_receiver *receiver, const wfi_interpolator *interpolator,
                 const wfi_ray *rays, size_t n_rays, double noise_power, int64_t second,
                 int64_t first, size_t n);

#endif
