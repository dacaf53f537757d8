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

/* The taps of a position, between the rows of the table. */
static inline void blend(float *restrict taps, const wfi_interpolator *interpolator,
                         double fraction)
{
    const double phase = fraction * N_PHASES;
    const int row = (int)phase;
    const float weight = (float)(phase - (double)row);
    for (int j = 0; j < ROW; j++)
        taps[j] = interpolator->taps[row][j] + weight * interpolator->change[row][j];
}

static inline float complex value(const float *restrict taps, const float *restrict samples)
{
    float lane[LANES] = {0};
    for (int j = 0; j < ROW; j += LANES)
        for (int k = 0; k < LANES; k++)
            lane[k] += taps[j + k] * samples[j + k];
    return CMPLXF((lane[0] + lane[2]) + (lane[4] + lane[6]),
                  (lane[1] + lane[3]) + (lane[5] + lane[7]));
}

/* Values in a row that may share their taps: where the step is a whole number but for the rate of
 * the delay, the fraction hardly moves. A tap changes by pi/sqrt(3) a sample at most. */
static size_t run_length(double step, size_t n)
{
    static const double tolerated = 1.6e-5;
    const double drift = fabs(step - rint(step));
    if (drift * (double)n <= tolerated)
        return n;
    return drift * 2.0 > tolerated ? 1 : (size_t)(tolerated / drift);
}

void wfi_interpolate(const wfi_interpolator *interpolator, const float complex *samples,
                     double position, double step, size_t n, float complex *out)
{
    const float *const pairs = (const float *)samples;
    const size_t run = run_length(step, n);
    const int64_t whole_step = (int64_t)rint(step);
    for (size_t first = 0; first < n; first += run) {
        const size_t length = n - first < run ? n - first : run;
        const double start = position + (double)first * step;
        const int64_t whole = (int64_t)start;
        /* The fraction in the middle of the run. */
        const double middle =
            start + 0.5 * (double)(length - 1) * (step - (double)whole_step) - (double)whole;
        float taps[ROW];
        blend(taps, interpolator, middle < 0.0 ? 0.0 : middle >= 1.0 ? 1.0 - 1e-9 : middle);
        const float *at = pairs + 2 * (whole - WFI_INTERPOLATION_BEFORE);
        for (size_t k = 0; k < length; k++) {
            out[first + k] = value(taps, at);
            at += 2 * whole_step;
        }
    }
}
