/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sinusoids in a tapered phase: amplitude, frequency, errors. */
#include "fringe/phase_spectrum.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/phase_trend.h"

enum { CLIMB_STEPS = 60 };

wf_status wfi_tapered_fill(wfi_tapered *in, const double *phase_rad, size_t n_times, wf_error *err)
{
    *in = (wfi_tapered){.n = n_times};
    WFI_TRY(wfi_allocate(&in->phase, n_times, sizeof(double), "a phase", err));
    WFI_TRY(wfi_allocate(&in->taper, n_times, sizeof(double), "a taper", err));
    memcpy(in->phase, phase_rad, n_times * sizeof *in->phase);
    wfi_phase_subtract_parabola(in->phase, n_times);
    for (size_t t = 0; t < n_times; t++) {
        const double sine = sin(0.5 * WFI_RAD_PER_TURN * ((double)t + 0.5) / (double)n_times);
        const bool hole = isnan(in->phase[t]);
        in->phase[t] = hole ? 0 : in->phase[t];
        in->taper[t] = hole ? 0 : sine * sine;
        in->sum += in->taper[t];
        in->square += in->taper[t] * in->taper[t];
    }
    return WF_OK;
}

void wfi_tapered_release(wfi_tapered *in)
{
    wfi_free(in->phase);
    wfi_free(in->taper);
    *in = (wfi_tapered){0};
}

double complex wfi_tapered_amplitude(const wfi_tapered *in, double turns_an_interval)
{
    double complex sum = 0;
    for (size_t t = 0; t < in->n; t++) {
        if (!(in->taper[t] > 0))
            continue;
        const double angle =
            WFI_RAD_PER_TURN * wfi_turns_product(turns_an_interval, (double)t + 0.5);
        sum += in->taper[t] * in->phase[t] * CMPLX(cos(angle), -sin(angle));
    }
    return 2 * sum / in->sum;
}

/* Golden section for the highest modulus within a bin of the start, turns an interval. */
static double climb(const wfi_tapered *in, double start)
{
    const double golden = 0.61803398874989485;
    double low = start - 1 / (double)in->n;
    double high = start + 1 / (double)in->n;
    double a = high - golden * (high - low);
    double b = low + golden * (high - low);
    double at_a = cabs(wfi_tapered_amplitude(in, a));
    double at_b = cabs(wfi_tapered_amplitude(in, b));
    for (int i = 0; i < CLIMB_STEPS && high - low > 1e-7 / (double)in->n; i++) {
        if (at_a > at_b) {
            high = b;
            b = a;
            at_b = at_a;
            a = high - golden * (high - low);
            at_a = cabs(wfi_tapered_amplitude(in, a));
        } else {
            low = a;
            a = b;
            at_a = at_b;
            b = low + golden * (high - low);
            at_b = cabs(wfi_tapered_amplitude(in, b));
        }
    }
    return 0.5 * (low + high);
}

/* Frequency error in turns an interval for an amplitude in white noise of variance 1 a phase: the
 * noise across the line turns the tapered sum's derivative. */
static double frequency_error(const wfi_tapered *in, double amplitude)
{
    double moment = 0;
    for (size_t t = 0; t < in->n; t++)
        moment += in->taper[t] * (double)t / in->sum;
    double curvature = 0;
    double noise = 0;
    for (size_t t = 0; t < in->n; t++) {
        const double d = (double)t - moment;
        curvature += in->taper[t] * d * d;
        noise += in->taper[t] * in->taper[t] * d * d;
    }
    return sqrt(2 * noise) / (amplitude * curvature * WFI_RAD_PER_TURN);
}

double wfi_tapered_amplitude_error(const wfi_tapered *in, double density, double interval_s)
{
    return sqrt(density * in->square / interval_s) / in->sum;
}

wf_phase_line wfi_tapered_line(const wfi_tapered *in, double turns_an_interval, double density,
                               double interval_s)
{
    const double frequency = climb(in, turns_an_interval);
    const double complex a = wfi_tapered_amplitude(in, frequency);
    const double sigma = sqrt(density / (2 * interval_s)); /* of one phase */
    return (wf_phase_line){
        .frequency_hz = frequency / interval_s,
        .frequency_error_hz = sigma * frequency_error(in, cabs(a)) / interval_s,
        .amplitude_rad = cabs(a),
        .amplitude_error_rad = wfi_tapered_amplitude_error(in, density, interval_s),
        .phase_rad = carg(a),
    };
}
