/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine alone on one thread. */
#include "engine_run.h"

#include "engine/kernels.h"

enum { SAMPLE_RATE_HZ = 32000000 };
enum { SEGMENTS_MIN = 2048, SEGMENTS_MAX = 4096, SEGMENTS_MIN_QUICK = 64 };
static const size_t SAMPLES = (size_t)1 << 25;
static const size_t SAMPLES_QUICK = (size_t)1 << 22;
static const size_t SAMPLE_MEMORY_BYTES = (size_t)64 << 20;

static size_t segments_of(const bench_arguments *asked, size_t n_stations, size_t n_channels)
{
    const size_t samples = asked->quick ? SAMPLES_QUICK : SAMPLES;
    const size_t least = asked->quick ? SEGMENTS_MIN_QUICK : SEGMENTS_MIN;
    const size_t n = samples / (4 * n_stations * n_channels) / 64 * 64;
    return n < least ? least : n > SEGMENTS_MAX ? SEGMENTS_MAX : n;
}

wfi_scene_setup bench_engine_setup(const bench_arguments *asked, size_t n_stations,
                                   size_t n_channels)
{
    return (wfi_scene_setup){
        .n_stations = n_stations,
        .n_polarizations = 2,
        .n_bands = 1,
        .n_channels = n_channels,
        .n_products = 4,
        .sample_rate_hz = SAMPLE_RATE_HZ,
        .bits = 2,
        .kernels = asked->kernels,
        .edge_hz = 8400e6,
        .rotation = WF_ROTATION_AFTER_FFT,
        .n_segments = (int64_t)segments_of(asked, n_stations, n_channels),
        .memory_bytes = SAMPLE_MEMORY_BYTES,
    };
}

bool bench_engine_open(bench_engine *engine, const wfi_scene_setup *setup)
{
    *engine = (bench_engine){.setup = *setup, .err = WF_ERROR_INIT};
    wf_error *err = &engine->err;
    wf_status status = wfi_scene_open(&engine->scene, setup, err);
    const wf_plan *plan = engine->scene.session.plan;
    if (status == WF_OK)
        status = wf_worker_create(&engine->worker, plan, err);
    if (status == WF_OK)
        status = wf_partial_create(&engine->part, plan, err);
    if (status == WF_OK)
        status = wf_partial_create(&engine->total, plan, err);
    return status == WF_OK;
}

void bench_engine_close(bench_engine *engine)
{
    wf_partial_destroy(engine->total);
    wf_partial_destroy(engine->part);
    wf_worker_destroy(engine->worker);
    wfi_scene_close(&engine->scene);
}

bool bench_engine_run(void *context)
{
    bench_engine *engine = context;
    return wf_plan_execute_slice(engine->scene.session.plan, engine->worker, &engine->scene.slice,
                                 engine->part, engine->total, &engine->err) == WF_OK;
}

const char *bench_kernels_name(const char *asked)
{
    const wfi_kernels *kernels = NULL;
    return wfi_kernels_choose(&kernels, asked, NULL) == WF_OK ? kernels->name : NULL;
}
