/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phasors of batches in vectors, a line for each lane. Included by one file a family, after
 * batch_transform_lanes.h. */
#ifndef WFI_ENGINE_BATCH_PHASES_LANES_H
#define WFI_ENGINE_BATCH_PHASES_LANES_H

/* The phasors as floats, then each times its step. */
static inline void advance_phasors(float *out_re, float *out_im, double *re, double *im,
                                   const phasor *step)
{
    for (size_t s = 0; s < LANES; s++) {
        out_re[s] = (float)re[s];
        out_im[s] = (float)im[s];
        const double next = re[s] * step[s].re - im[s] * step[s].im;
        im[s] = re[s] * step[s].im + im[s] * step[s].re;
        re[s] = next;
    }
}

/* Phasors of all lanes: k has block[k / 16] * step[k % 16]. */
static void batch_phases(wfi_batch_phases *phases, const double *first_turns,
                         const double *step_turns, double amplitude, size_t n)
{
    phasor one[LANES]; /* step */
    double re[LANES];
    double im[LANES];
    for (size_t s = 0; s < LANES; s++) {
        one[s] = phasor_of_turns(step_turns[s]);
        re[s] = 1;
        im[s] = 0;
    }
    for (size_t k = 0; k < WFI_PHASE_BLOCK; k++)
        advance_phasors(phases->step_re + k * LANES, phases->step_im + k * LANES, re, im, one);
    for (size_t s = 0; s < LANES; s++) {
        one[s] = (phasor){re[s], im[s]};
        const phasor first = phasor_of_turns(first_turns[s]);
        re[s] = amplitude * first.re;
        im[s] = amplitude * first.im;
    }
    for (size_t b = 0; b < n / WFI_PHASE_BLOCK; b++)
        advance_phasors(phases->block_re + b * LANES, phases->block_im + b * LANES, re, im, one);
}

typedef struct phase_line {
    const float *block_re;
    const float *block_im;
    const float *step_re;
    const float *step_im;
} phase_line;

static phase_line phase_line_of(const wfi_batch_phases *phases)
{
    return (phase_line){phases->block_re, phases->block_im, phases->step_re, phases->step_im};
}

static ALWAYS_INLINE vector phasor_at(phase_line line, size_t k)
{
    const size_t block = k / WFI_PHASE_BLOCK * LANES;
    const size_t step = k % WFI_PHASE_BLOCK * LANES;
    const vector begin = {lanes_load(line.block_re + block), lanes_load(line.block_im + block)};
    const vector within = {lanes_load(line.step_re + step), lanes_load(line.step_im + step)};
    return product(begin, within);
}

#endif
