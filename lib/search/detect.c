/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which baselines show a fringe, and which stations they connect. */
#include "search/detect.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"

/* Bands whose sum is this part of what it would be if all were in phase. */
static const double LINED_UP = 0.9;

static const double CLEARLY = 1.2;

typedef struct detection {
    wf_search_baseline *out;
    const wfi_cube *cube;
    const wf_fringe_window *window;
    double false_alarm;
} detection;

/* Oscillators of the bands may be out of phase: where they do not line up, each band is given its
 * own. Two chances for noise then. */
static wf_status fit_inputs(wf_fringe_fit *fit, const wf_fringe_input *inputs, size_t n_inputs,
                            const detection *run, wf_error *err)
{
    WFI_TRY(wf_fringe_fit_bands(fit, NULL, inputs, n_inputs, run->window, err));
    if (n_inputs < 2 || (fit->false_alarm < run->false_alarm && fit->band_coherence > LINED_UP))
        return WF_OK;
    wf_fringe_fit free_phases;
    WFI_TRY(
        wf_fringe_fit_bands_free_phases(&free_phases, NULL, inputs, n_inputs, run->window, err));
    if (free_phases.false_alarm < fit->false_alarm)
        *fit = free_phases;
    fit->false_alarm = fmin(1, 2 * fit->false_alarm);
    return WF_OK;
}

static wf_status fit_product(wf_fringe_fit *fit, const detection *run, size_t i_pair,
                             size_t i_product, wf_error *err)
{
    const size_t n_bands = run->cube->observation->n_bands;
    wf_fringe_input *inputs = NULL;
    WFI_TRY(wfi_allocate(&inputs, n_bands, sizeof *inputs, "bands", err));
    for (size_t b = 0; b < n_bands; b++)
        inputs[b] = wfi_cube_input(run->cube, i_pair, b, i_product);
    const wf_status status = fit_inputs(fit, inputs, n_bands, run, err);
    wfi_free(inputs);
    return status;
}

static bool has_samples(const wfi_cube *cube, size_t i_pair, size_t i_product)
{
    for (size_t b = 0; b < cube->observation->n_bands; b++) {
        const wf_fringe_input input = wfi_cube_input(cube, i_pair, b, i_product);
        for (size_t t = 0; t < input.n_times; t++)
            if (input.weight[t] > 0)
                return true;
    }
    return false;
}

/* Of n products the first, unless another is clearly better: the clocks then come from products
 * that go together. Noise has n chances to look like a fringe. */
static wf_status detect_pair(void *context, size_t i_pair, size_t i_worker, wf_error *err)
{
    (void)i_worker;
    const detection *run = context;
    const wf_correlation *correlation = &run->cube->observation->correlation;
    wf_search_baseline *out = &run->out[i_pair];
    *out = (wf_search_baseline){.i_station = run->cube->pairs[i_pair].i_station,
                                .j_station = run->cube->pairs[i_pair].j_station,
                                .fit = {.false_alarm = 1}};
    size_t n_tried = 0;
    for (size_t p = 0; p < correlation->n_products; p++) {
        if (!has_samples(run->cube, i_pair, p))
            continue;
        wf_fringe_fit fit;
        WFI_TRY(fit_product(&fit, run, i_pair, p, err));
        out->product_snr[p] = fit.snr;
        if (n_tried++ == 0 || fit.snr > CLEARLY * out->fit.snr) {
            out->fit = fit;
            out->product = correlation->products[p];
        }
    }
    if (n_tried > 1)
        out->fit.false_alarm = -expm1((double)n_tried * log1p(-fmin(out->fit.false_alarm, 1)));
    out->found = n_tried > 0 && out->fit.false_alarm < run->false_alarm;
    return WF_OK;
}

wf_status wfi_detect(wf_search_baseline *out, const wfi_cube *cube, const wf_fringe_window *window,
                     double false_alarm, size_t n_threads, wf_error *err)
{
    detection run = {.out = out, .cube = cube, .window = window, .false_alarm = false_alarm};
    return wfi_parallel_for(cube->n_pairs, n_threads, detect_pair, &run, err);
}

static size_t root_of(const size_t *group, size_t i)
{
    while (group[i] != i)
        i = group[i];
    return i;
}

void wfi_connect(size_t *group, size_t n_stations, const wf_search_baseline *baselines,
                 size_t n_baselines)
{
    for (size_t i = 0; i < n_stations; i++)
        group[i] = i;
    for (size_t k = 0; k < n_baselines; k++) {
        if (!baselines[k].found)
            continue;
        const size_t a = root_of(group, baselines[k].i_station);
        const size_t b = root_of(group, baselines[k].j_station);
        group[a > b ? a : b] = a > b ? b : a;
    }
    for (size_t i = 0; i < n_stations; i++)
        group[i] = root_of(group, i);
}
