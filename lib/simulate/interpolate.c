/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Windowed-sinc interpolation of complex samples at twice their Nyquist rate.
 *
 * The table holds a row of taps for each of N_PHASES fractions; between rows the taps are
 * interpolated linearly, an error of (1/N_PHASES)^2/8 times their curvature, at most pi^2/3: 6e-6.
 * Every tap stands twice, for the real and the imaginary part, so that a row meets the interleaved
 * samples lane by lane.
 */
#include "simulate/interpolate.h"

#include <math.h>
#include <stdint.h>

#include "base/memory.h"
#include "base/status.h"

enum { N_PHASES = 256, ROW = 2 * WFI_INTERPOLATION_TAPS, LANES = 8 };

/* Kaiser's rule, A = 2.285 (taps - 1) transition + 8 with a transition from 1/4 to 3/4 of the
 * sample rate, promises 116 dB; beta = 0.1102 (A - 8.7). (Kaiser 1974; Oppenheim and Schafer,
 * Discrete-Time Signal Processing, eq. 7.75, 7.76, from memory.) */
static const double kaiser_beta = 11.0;

struct wfi_interpolator {
    float taps[N_PHASES][ROW];
    float change[N_PHASES][ROW]; /* to the next row */
};

static double bessel_i0(double x)
{
    double term = 1.0, sum = 1.0;
    for (int k = 1; k < 60; k++) {
        term *= (x / (2 * k)) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

static double kernel(double x)
{
    const double half = WFI_INTERPOLATION_TAPS / 2;
    const double pi = acos(-1.0);
    if (fabs(x) >= half)
        return 0.0;
    const double window =
        bessel_i0(kaiser_beta * sqrt(1.0 - (x / half) * (x / half))) / bessel_i0(kaiser_beta);
    return x == 0.0 ? window : window * sin(pi * x) / (pi * x);
}

/* The taps of one fraction, of unit sum: a constant stays what it is. */
static void tabulate(double taps[WFI_INTERPOLATION_TAPS], double fraction)
{
    double sum = 0.0;
    for (int j = 0; j < WFI_INTERPOLATION_TAPS; j++) {
        taps[j] = kernel(fraction + WFI_INTERPOLATION_BEFORE - j);
        sum += taps[j];
    }
    for (int j = 0; j < WFI_INTERPOLATION_TAPS; j++)
        taps[j] /= sum;
}

wf_status wfi_interpolator_create(wfi_interpolator **out, wf_error *err)
{
    *out = NULL;
    wfi_interpolator *interpolator;
    WFI_TRY(wfi_allocate(&interpolator, 1, sizeof *interpolator, "the interpolator", err));
    double row[WFI_INTERPOLATION_TAPS], next[WFI_INTERPOLATION_TAPS];
    tabulate(next, 0.0);
    for (int i = 0; i < N_PHASES; i++) {
        for (int j = 0; j < WFI_INTERPOLATION_TAPS; j++)
            row[j] = next[j];
        tabulate(next, (double)(i + 1) / N_PHASES);
        for (int j = 0; j < ROW; j++) {
            interpolator->taps[i][j] = (float)row[j / 2];
            interpolator->change[i][j] = (float)(next[j / 2] - row[j / 2]);
        }
    }
    *out = interpolator;
    return WF_OK;
}

void wfi_interpolator_destroy(wfi_interpolator *interpolator)
{
    wfi_free(interpolator);
}

static inline float complex value(const float *restrict taps, const float *restrict change,
                                  float weight, const float *restrict samples)
{
    float lane[LANES] = {0};
    for (int j = 0; j < ROW; j += LANES)
        for (int k = 0; k < LANES; k++)
            lane[k] += (taps[j + k] + weight * change[j + k]) * samples[j + k];
    return CMPLXF((lane[0] + lane[2]) + (lane[4] + lane[6]),
                  (lane[1] + lane[3]) + (lane[5] + lane[7]));
}

void wfi_interpolate(const wfi_interpolator *interpolator, const float complex *samples,
                     double position, double step, size_t n, float complex *out)
{
    const float *const pairs = (const float *)samples;
    for (size_t k = 0; k < n; k++) {
        const double at = position + (double)k * step;
        const int64_t whole = (int64_t)at;
        const double phase = (at - (double)whole) * N_PHASES;
        const int row = (int)phase;
        out[k] =
            value(interpolator->taps[row], interpolator->change[row], (float)(phase - (double)row),
                  pairs + 2 * (whole - WFI_INTERPOLATION_BEFORE));
    }
}
