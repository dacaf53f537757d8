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

/** What reaches a receiver, and what it adds. */
typedef struct wfi_reception {
    const wfi_ray *rays; /* [n_rays]; none: away from the sky */
    size_t n_rays;
    double noise_power; /* variance of the receiver's own noise */
} wfi_reception;

/** Samples [first, first + n) of a second, and of the following ones. */
typedef struct wfi_samples {
    int64_t second; /* SI seconds since 2000-01-01T00:00:00 UTC, by the station's clock */
    int64_t first;
    size_t n;
} wfi_samples;

/** Samples in one stretch of linear delay: wfi_voltage works through so many at a time. */
enum { WFI_STRETCH_SAMPLES = 256 };

/** Voltages of a stream, with the sky in them or with receiver noise alone.
 *
 *  returned  volts  [n], complex [n][2]; the complex voltage's variance is that of a real one, so
 *                   either part has half of it. Samples do not depend on the division into calls
 *                   beyond the accuracy of the interpolation.
 *  accuracy  of the phase: 1e-5 turn at 230 GHz, given the track
 */
void wfi_voltage(float *volts, const wfi_receiver *receiver, const wfi_interpolator *interpolator,
                 const wfi_reception *reception, const wfi_samples *samples);

#endif
