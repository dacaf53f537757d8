/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The wavefront that passes the geocentre at t is tagged T = t + D, D delay and clock together. The
 * sky's s(t) = a(t) exp(2 pi i nu t) is mixed with the station's own clock:
 *
 *     z(T) = s(t) exp(-2 pi i nu0 T) = a(t) exp(2 pi i [(nu - nu0) T - nu D])
 *
 * Upper sideband: z. Lower: conj z. Real sampling: sqrt(2) Re z, z having one side of frequencies.
 */
#include "simulate/voltage.h"

#include <math.h>

#include "base/turns.h"
#include "simulate/random.h"

/* A stretch over which the delay is linear: an acceleration of 1e-10 s/s^2 adds 5e-19 s to its
 * ends, 1e-7 turn at 230 GHz. */
static const double longest_stretch_s = 2e-4;

/* Delay of the first sample, by its tag, and what each sample adds. */
typedef struct lag {
    double first_s;
    double slope; /* d lag / d tag */
} lag;

static lag lag_at(const wf_track *track, const wfi_samples *s, double sample_rate_hz)
{
    const double half_s = 0.5 * ((double)s->n - 1.0) / sample_rate_hz;
    const wf_instant tag = {s->second, 0.0};
    const double middle_s = (double)s->first / sample_rate_hz + half_s;
    double delay_s = 0.0, rate = 0.0;
    /* Each step gains a factor of the delay rate, 1e-6: three leave 1e-18 of the delay. */
    for (int i = 0; i < 3; i++)
        wf_track_evaluate(track, wf_instant_add(tag, middle_s - delay_s), &delay_s, &rate);
    const double slope = rate / (1.0 + rate);
    return (lag){delay_s - slope * half_s, slope};
}

typedef struct phasor {
    double re;
    double im;
} phasor;

static phasor phasor_of_turns(double turns)
{
    const double angle = 2.0 * acos(-1.0) * wfi_turns_reduce(turns);
    return (phasor){cos(angle), sin(angle)};
}

static phasor phasor_product(phasor a, phasor b)
{
    return (phasor){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

/* a(t) of every sample of a stretch. */
static void listen(float complex *wave, const wfi_ray *ray, const wfi_interpolator *interpolator,
                   const wfi_samples *s, const lag *delay, double sample_rate_hz)
{
    const int64_t grid_hz = wfi_noise_grid_hz(ray->noise);
    const double at = ((double)s->first / sample_rate_hz - delay->first_s) * (double)grid_hz;
    const double whole = floor(at);
    const double step = (double)grid_hz * (1.0 - delay->slope) / sample_rate_hz;
    const size_t span = (size_t)((double)s->n * step) + WFI_INTERPOLATION_TAPS + 2;
    const int64_t first = s->second * grid_hz + (int64_t)whole - WFI_INTERPOLATION_BEFORE;
    const float complex *const samples = wfi_noise_get(ray->noise, first, span);
    wfi_interpolate(interpolator, samples, at - whole + WFI_INTERPOLATION_BEFORE, step, s->n, wave);
}

/* Add a ray, mixed down, to the voltages of a stretch. */
static void mix(float *volts, const float complex *wave, const wfi_ray *ray,
                const wfi_receiver *receiver, const wfi_samples *s, const lag *delay)
{
    const double rate_hz = (double)receiver->sample_rate_hz;
    const double carrier_hz = wfi_noise_carrier_hz(ray->noise);
    const double offset_hz = carrier_hz - receiver->zero_hz;
    phasor p = phasor_of_turns(wfi_turns_product(offset_hz, (double)s->second) +
                               wfi_turns_product(offset_hz, (double)s->first / rate_hz) -
                               wfi_turns_product(carrier_hz, delay->first_s));
    const phasor step = phasor_of_turns((offset_hz - carrier_hz * delay->slope) / rate_hz);
    const double gain = receiver->is_complex ? ray->gain : ray->gain * sqrt(2.0);
    p.re *= gain;
    p.im *= gain;
    const float side = receiver->sideband == WF_SIDEBAND_LOWER ? -1.0f : 1.0f;
    for (size_t k = 0; k < s->n; k++) {
        const float re = (float)p.re, im = (float)p.im;
        const float a = crealf(wave[k]), b = cimagf(wave[k]);
        if (receiver->is_complex) {
            volts[2 * k] += a * re - b * im;
            volts[2 * k + 1] += side * (a * im + b * re);
        } else {
            volts[k] += a * re - b * im;
        }
        p = phasor_product(p, step);
    }
}

static void hiss(float *volts, const wfi_receiver *receiver, double power, int64_t number, size_t n)
{
    const size_t parts = receiver->is_complex ? 2 : 1;
    wfi_random_normals(volts, n * parts, (uint64_t)number * parts, receiver->identity,
                       receiver->seed);
    const float sigma = (float)sqrt(power / (double)parts);
    for (size_t k = 0; k < n * parts; k++)
        volts[k] *= sigma;
}

static int64_t stretch_samples(int64_t sample_rate_hz)
{
    const double longest = (double)sample_rate_hz * longest_stretch_s;
    return longest < 1.0                   ? 1
           : longest < WFI_STRETCH_SAMPLES ? (int64_t)longest
                                           : WFI_STRETCH_SAMPLES;
}

void wfi_voltage(float *volts, const wfi_receiver *receiver, const wfi_interpolator *interpolator,
                 const wfi_reception *reception, const wfi_samples *samples)
{
    const int64_t rate_hz = receiver->sample_rate_hz;
    const size_t parts = receiver->is_complex ? 2 : 1;
    const int64_t longest = stretch_samples(rate_hz);
    float complex wave[WFI_STRETCH_SAMPLES];
    hiss(volts, receiver, reception->noise_power, samples->second * rate_hz + samples->first,
         samples->n);
    for (size_t done = 0; done < samples->n;) {
        const int64_t number = samples->first + (int64_t)done;
        wfi_samples s = {samples->second + number / rate_hz, number % rate_hz, 0};
        /* Stretches end at multiples of their length and at seconds, whatever the call. */
        int64_t length = longest - s.first % longest;
        length = length < rate_hz - s.first ? length : rate_hz - s.first;
        s.n = (size_t)length < samples->n - done ? (size_t)length : samples->n - done;
        for (size_t i = 0; i < reception->n_rays; i++) {
            const wfi_ray *const ray = &reception->rays[i];
            const lag delay = lag_at(ray->track, &s, (double)rate_hz);
            listen(wave, ray, interpolator, &s, &delay, (double)rate_hz);
            mix(volts + done * parts, wave, ray, receiver, &s, &delay);
        }
        done += s.n;
    }
}
