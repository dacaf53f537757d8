/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bands of an invented fringe: one model over all of them, noise of a counter-based generator. */
#ifndef TESTS_UNIT_FRINGE_BANDS_H
#define TESTS_UNIT_FRINGE_BANDS_H

#include <whitefringe/fringe_fit.h>

#include "invented.h"

enum { BANDS_MAX = 8 };

typedef struct band_shape {
    double first_channel_hz;
    double channel_width_hz;
    size_t n_channels;
} band_shape;

typedef struct bands {
    size_t n;
    invented band[BANDS_MAX];
    wf_fringe_input input[BANDS_MAX];
} bands;

typedef struct truth {
    double delay_s;
    double rate_s_per_s;
    double amplitude;
    double phase_rad; /* at reference_hz, middle of the stretch */
    double reference_hz;
} truth;

static inline bands bands_create(const band_shape *shapes, size_t n, size_t n_times,
                                 double interval_s)
{
    bands out = {.n = n};
    for (size_t b = 0; b < n; b++) {
        invented *band = &out.band[b];
        *band = invented_create(n_times, shapes[b].n_channels);
        band->input.interval_s = interval_s;
        band->input.channel_width_hz = shapes[b].channel_width_hz;
        band->input.first_channel_hz = shapes[b].first_channel_hz;
        out.input[b] = band->input;
    }
    return out;
}

static inline void bands_destroy(bands *all)
{
    for (size_t b = 0; b < all->n; b++)
        invented_destroy(&all->band[b]);
}

/** Add the fringe to every band; `instrument_rad` [n] or NULL, phases of the bands' own. */
static inline void bands_add_fringe(bands *all, const truth *t, const double *instrument_rad)
{
    for (size_t b = 0; b < all->n; b++) {
        const double offset_hz = invented_middle_hz(&all->input[b]) - t->reference_hz;
        const double turns = fmod(offset_hz * t->delay_s, 1.0);
        const double phase_rad = t->phase_rad - 2 * INVENTED_PI * turns +
                                 (instrument_rad != NULL ? instrument_rad[b] : 0);
        invented_add_fringe(&all->band[b], t->delay_s, t->rate_s_per_s, t->amplitude, phase_rad);
    }
}

/** Noise of a coefficient of correlation: 1 / sqrt(2 B tau) in each component, times `factor`;
 *  weights other than 1 raise it. */
static inline void bands_add_noise(bands *all, double factor, uint64_t seed)
{
    for (size_t b = 0; b < all->n; b++) {
        invented noise = invented_create(all->input[b].n_times, all->input[b].n_channels);
        invented_add_noise(&noise, 1, seed * 1000 + b);
        for (size_t t = 0; t < all->input[b].n_times; t++) {
            const double weight = all->band[b].weight[t];
            const double sigma = factor / sqrt(2 * all->input[b].channel_width_hz *
                                               all->input[b].interval_s * weight);
            for (size_t c = 0; weight > 0 && c < all->input[b].n_channels; c++) {
                const size_t i = t * all->input[b].n_channels + c;
                all->band[b].visibility[i] += (float)sigma * noise.visibility[i];
            }
        }
        invented_destroy(&noise);
    }
}

/** The snr of an amplitude: rho sqrt(2 B tau) over all bands (Thompson, Moran, Swenson 2017,
 *  section 9.3, from memory), weights taken as valid fractions. */
static inline double bands_snr(const bands *all, double amplitude)
{
    double samples = 0;
    for (size_t b = 0; b < all->n; b++) {
        const wf_fringe_input *in = &all->input[b];
        for (size_t t = 0; t < in->n_times; t++)
            samples += all->band[b].weight[t] * 2 * in->channel_width_hz * (double)in->n_channels *
                       in->interval_s;
    }
    return amplitude * sqrt(samples);
}

#endif
