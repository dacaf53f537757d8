/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Visibilities of an invented fringe, in closed form, with noise of a counter-based generator. */
#ifndef TESTS_UNIT_FRINGE_INVENTED_H
#define TESTS_UNIT_FRINGE_INVENTED_H

#include <complex.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <whitefringe/fringe.h>

#define INVENTED_PI 3.141592653589793238

typedef struct invented {
    wf_fringe_input input;
    float complex *visibility;
    double *weight;
} invented;

static inline double invented_middle_hz(const wf_fringe_input *input)
{
    return input->first_channel_hz +
           0.5 * ((double)input->n_channels - 1) * input->channel_width_hz;
}

static inline invented invented_create(size_t n_times, size_t n_channels)
{
    invented out = {.input = {.n_times = n_times,
                              .n_channels = n_channels,
                              .interval_s = 0.5,
                              .channel_width_hz = 62.5e3,
                              .first_channel_hz = 8.4e9}};
    out.visibility = calloc(n_times * n_channels, sizeof *out.visibility);
    out.weight = calloc(n_times, sizeof *out.weight);
    for (size_t t = 0; t < n_times; t++)
        out.weight[t] = 1;
    out.input.visibility = out.visibility;
    out.input.weight = out.weight;
    return out;
}

static inline void invented_destroy(invented *fringe)
{
    free(fringe->visibility);
    free(fringe->weight);
}

/** Add amplitude * exp(i (phase - 2 pi nu (delay + rate t))), phase and t those of the middle.
 *
 *  The sense: a wave that comes to station i later than the model has it by dtau turns X_i by
 *  -2 pi nu dtau, and X_i conj(X_j) with it. */
static inline void invented_add_fringe(invented *fringe, double delay_s, double rate_s_per_s,
                                       double amplitude, double phase_rad)
{
    const wf_fringe_input *in = &fringe->input;
    const double nu_middle = invented_middle_hz(in);
    for (size_t t = 0; t < in->n_times; t++) {
        const double time_s = ((double)t - 0.5 * ((double)in->n_times - 1)) * in->interval_s;
        for (size_t c = 0; c < in->n_channels; c++) {
            const double nu = in->first_channel_hz + (double)c * in->channel_width_hz;
            const double turns = (nu - nu_middle) * delay_s + nu * rate_s_per_s * time_s;
            const double angle = phase_rad - 2 * INVENTED_PI * fmod(turns, 1.0);
            fringe->visibility[t * in->n_channels + c] +=
                (float complex)(amplitude * (cos(angle) + I * sin(angle)));
        }
    }
}

/** Uniform in (0, 1): the mixing function of the splitmix64 generator over a counter. */
static inline double invented_uniform(uint64_t seed, uint64_t counter)
{
    uint64_t z = seed + (counter + 1) * UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return ((double)(z >> 11) + 0.5) / 9007199254740992.0;
}

/** Add complex Gaussian noise, sigma in each component (Box and Muller 1958). */
static inline void invented_add_noise(invented *fringe, double sigma, uint64_t seed)
{
    const size_t n = fringe->input.n_times * fringe->input.n_channels;
    for (size_t i = 0; i < n; i++) {
        const double radius = sigma * sqrt(-2 * log(invented_uniform(seed, 2 * i)));
        const double angle = 2 * INVENTED_PI * invented_uniform(seed, 2 * i + 1);
        fringe->visibility[i] += (float complex)(radius * (cos(angle) + I * sin(angle)));
    }
}

#endif
