/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slices over threads, in the order of time. */
#include "run/slices.h"

#include "base/memory.h"
#include "base/status.h"
#include "run/ordered.h"

/* Sums that wait for those before them: as many as keep threads from waiting for one that was held
 * up for a while, if they are small. */
enum { PLACES_MAX = 8 };
static const size_t PLACES_BYTES = (size_t)64 << 20;

typedef struct slices {
    const wfi_tasks *tasks;
    const wf_plan *plan;
    const wfi_slices_sink *sink;
    wf_worker **workers;   /* [n_threads] each made by its own thread, so that its memory is near */
    wf_partial **partials; /* [n_places] likewise */
    wf_partial *total;     /* of the slice whose stretches are being added */
} slices;

static size_t places_of_thread(const wf_plan *plan, size_t n_threads)
{
    const wf_shape *shape = wf_plan_shape(plan);
    const size_t sums_bytes = shape->n_baselines * shape->n_products * shape->n_bands *
                              shape->n_channels * sizeof(double complex);
    const size_t n = PLACES_BYTES / (sums_bytes * n_threads);
    return n < 1 ? 1 : n < PLACES_MAX ? n : PLACES_MAX;
}

size_t wfi_slices_places(const wf_plan *plan, size_t n_threads)
{
    return n_threads * places_of_thread(plan, n_threads);
}

static wf_status work_stretch(void *context, size_t i_task, size_t i_worker, size_t i_place,
                              wf_error *err)
{
    slices *run = context;
    const wfi_task task = wfi_tasks_get(run->tasks, i_task);
    if (run->workers[i_worker] == NULL)
        WFI_TRY(wf_worker_create(&run->workers[i_worker], run->plan, err));
    if (run->partials[i_place] == NULL)
        WFI_TRY(wf_partial_create(&run->partials[i_place], run->plan, err));
    if (task.begins_slice && run->sink->watch != NULL)
        WFI_TRY(run->sink->watch(run->sink->context, &task.slice, i_worker, i_place, err));
    return wf_plan_execute(run->plan, run->workers[i_worker], &task.slice, task.i_stretch,
                           run->partials[i_place], err);
}

static wf_status add_stretch(void *context, size_t i_task, size_t i_place, wf_error *err)
{
    slices *run = context;
    const wfi_slices_sink *sink = run->sink;
    const wfi_task task = wfi_tasks_get(run->tasks, i_task);
    if (task.begins_slice && sink->take != NULL)
        sink->take(sink->context, i_place);
    if (task.begins_slice && task.ends_slice)
        return sink->finish(sink->context, &task.slice, run->partials[i_place], err);
    if (task.begins_slice)
        wf_partial_clear(run->total, run->plan);
    wf_partial_add(run->total, run->plan, run->partials[i_place]);
    return task.ends_slice ? sink->finish(sink->context, &task.slice, run->total, err) : WF_OK;
}

wf_status wfi_slices_run(const wfi_tasks *tasks, size_t n_threads, const wfi_slices_sink *sink,
                         wf_error *err)
{
    slices run = {.tasks = tasks, .plan = tasks->session->plan, .sink = sink};
    const wfi_ordered_steps steps = {.work = work_stretch,
                                     .finish = add_stretch,
                                     .context = &run,
                                     .n_places = places_of_thread(run.plan, n_threads)};
    const size_t n_places = wfi_slices_places(run.plan, n_threads);
    wf_status status = wfi_allocate(&run.workers, n_threads, sizeof *run.workers, "workers", err);
    if (status == WF_OK)
        status = wfi_allocate(&run.partials, n_places, sizeof *run.partials, "sums", err);
    if (status == WF_OK)
        status = wf_partial_create(&run.total, run.plan, err);
    if (status == WF_OK)
        status = wfi_ordered_for(tasks->n_tasks, n_threads, &steps, err);
    for (size_t i = 0; run.workers != NULL && i < n_threads; i++)
        wf_worker_destroy(run.workers[i]);
    for (size_t i = 0; run.partials != NULL && i < n_places; i++)
        wf_partial_destroy(run.partials[i]);
    wf_partial_destroy(run.total);
    wfi_free(run.workers);
    wfi_free(run.partials);
    return status;
}
