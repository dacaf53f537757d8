/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine alone on one thread: one integration of samples in memory, to be timed. */
#ifndef BENCH_ENGINE_RUN_H
#define BENCH_ENGINE_RUN_H

#include <stdbool.h>

#include "arguments.h"
#include "throughput/scene.h"

typedef struct bench_engine {
    wfi_scene_setup setup;
    wfi_scene scene;
    wf_worker *worker;
    wf_partial *part;
    wf_partial *total;
    wf_error err;
} bench_engine;

/** Two-bit real samples of two polarizations, all products, at 8.4 GHz; as many segments as take
 *  the time that a repetition should. */
wfi_scene_setup bench_engine_setup(const bench_arguments *asked, size_t n_stations,
                                   size_t n_channels);

/** False where it failed; then too to be closed. */
bool bench_engine_open(bench_engine *engine, const wfi_scene_setup *setup);
void bench_engine_close(bench_engine *engine);

/** Execute the integration; for bench_subject. */
bool bench_engine_run(void *engine);

/** Name of the kernels that the engine takes when asked for these (NULL: its own choice), or NULL
 *  where there are none. */
const char *bench_kernels_name(const char *asked);

#endif
