/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Correlating into memory. */
#include "search/cube.h"

#include "base/memory.h"
#include "base/status.h"
#include "run/slices.h"

typedef struct filling {
    wfi_cube *cube;
    const wfi_session *session;
    wf_integration *integration;
    size_t i_time;
} filling;

static size_t series_of(const wfi_cube *cube, size_t i_pair, size_t i_band, size_t i_product)
{
    const wf_shape *shape = wf_plan_shape(cube->plan);
    return (i_pair * shape->n_bands + i_band) * shape->n_products + i_product;
}

static void keep_pair(const filling *run, size_t i_pair)
{
    const wfi_cube *cube = run->cube;
    const wf_shape *shape = wf_plan_shape(cube->plan);
    const size_t n_channels = shape->n_channels;
    const size_t n_products = shape->n_products;
    for (size_t b = 0; b < shape->n_bands; b++) {
        const size_t row = cube->i_baselines[i_pair] * shape->n_bands + b;
        const float complex *from = run->integration->visibility + row * n_channels * n_products;
        for (size_t p = 0; p < n_products; p++) {
            const size_t to = series_of(cube, i_pair, b, p) * cube->n_times + run->i_time;
            cube->weight[to] = (double)run->integration->weight[row * n_products + p];
            for (size_t c = 0; c < n_channels; c++)
                cube->visibility[to * n_channels + c] = from[c * n_products + p];
        }
    }
}

static wf_status keep_slice(void *context, const wf_slice *slice, const wf_partial *sums,
                            wf_error *err)
{
    filling *run = context;
    if (run->i_time >= run->cube->n_times)
        return WF_OK;
    WFI_TRY(wf_integration_normalise(run->integration, run->cube->plan, run->session->observation,
                                     run->session->model, slice, sums, err));
    for (size_t k = 0; k < run->cube->n_pairs; k++)
        keep_pair(run, k);
    run->i_time++;
    return WF_OK;
}

static bool is_wanted(wf_baseline baseline, const bool *takes_part, size_t i_station)
{
    return baseline.i_station != baseline.j_station && takes_part[baseline.i_station] &&
           takes_part[baseline.j_station] &&
           (i_station == WFI_CUBE_ALL_PAIRS || baseline.i_station == i_station ||
            baseline.j_station == i_station);
}

static wf_status list_pairs(wfi_cube *cube, const bool *takes_part, size_t i_station, wf_error *err)
{
    const wf_shape *shape = wf_plan_shape(cube->plan);
    WFI_TRY(wfi_allocate(&cube->pairs, shape->n_baselines, sizeof *cube->pairs, "baselines", err));
    WFI_TRY(wfi_allocate(&cube->i_baselines, shape->n_baselines, sizeof *cube->i_baselines,
                         "baselines", err));
    for (size_t i = 0; i < shape->n_baselines; i++) {
        const wf_baseline baseline = wf_plan_baseline(cube->plan, i);
        if (!is_wanted(baseline, takes_part, i_station))
            continue;
        cube->pairs[cube->n_pairs] = baseline;
        cube->i_baselines[cube->n_pairs++] = i;
    }
    return WF_OK;
}

static wf_status fill(wfi_cube *cube, const wfi_session *session, size_t n_threads, wf_error *err)
{
    const wf_shape *shape = wf_plan_shape(cube->plan);
    const size_t n_series = cube->n_pairs * shape->n_bands * shape->n_products;
    WFI_TRY(wfi_allocate(&cube->visibility, n_series * cube->n_times * shape->n_channels,
                         sizeof(float complex), "visibilities", err));
    WFI_TRY(wfi_allocate(&cube->weight, n_series * cube->n_times, sizeof(double), "weights", err));
    filling run = {.cube = cube, .session = session};
    wfi_tasks tasks = {0};
    const wfi_slices_sink sink = {.finish = keep_slice, .context = &run};
    wf_status status = wf_integration_create(&run.integration, cube->plan, err);
    if (status == WF_OK)
        status = wfi_tasks_create(&tasks, session, err);
    if (status == WF_OK)
        status = wfi_slices_run(&tasks, n_threads, &sink, err);
    wfi_tasks_destroy(&tasks);
    wf_integration_destroy(run.integration);
    return status;
}

wf_status wfi_cube_correlate(wfi_cube *out, const wfi_session *session, size_t n_times,
                             size_t i_station, size_t n_threads, wf_error *err)
{
    const wf_scan *scan = &session->observation->scans[0];
    *out =
        (wfi_cube){.observation = session->observation, .plan = session->plan, .n_times = n_times};
    wf_status status = list_pairs(out, scan->station_takes_part, i_station, err);
    if (status == WF_OK)
        status = fill(out, session, n_threads, err);
    if (status != WF_OK)
        wfi_cube_release(out);
    return status;
}

void wfi_cube_release(wfi_cube *cube)
{
    wfi_free(cube->pairs);
    wfi_free(cube->i_baselines);
    wfi_free(cube->visibility);
    wfi_free(cube->weight);
    *cube = (wfi_cube){0};
}

wf_fringe_input wfi_cube_input(const wfi_cube *cube, size_t i_pair, size_t i_band, size_t i_product)
{
    const size_t first = series_of(cube, i_pair, i_band, i_product) * cube->n_times;
    const size_t n_channels = wf_plan_shape(cube->plan)->n_channels;
    return (wf_fringe_input){
        .visibility = cube->visibility + first * n_channels,
        .weight = cube->weight + first,
        .n_times = cube->n_times,
        .n_channels = n_channels,
        .interval_s = cube->observation->correlation.integration_s,
        .channel_width_hz = wf_channel_width_hz(cube->observation),
        .first_channel_hz = wf_band_first_channel_hz(cube->observation, i_band),
    };
}
