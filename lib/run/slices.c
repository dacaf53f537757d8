/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slices over threads, in the order of time. */
#include "run/slices.h"

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"

typedef struct slices {
    const wfi_tasks *tasks;
    const wf_plan *plan;
    const wfi_slices_sink *sink;
    wf_worker **workers;   /* [n_threads] each made by its own thread, so that its memory is near */
    wf_partial **partials; /* [n_threads] */
    wf_partial *total;     /* of the slice whose stretches are being added */
} slices;

static wf_status work_stretch(void *context, size_t i_task, size_t i_worker, wf_error *err)
{
    slices *run = context;
    const wfi_task task = wfi_tasks_get(run->tasks, i_task);
    if (run->workers[i_worker] == NULL)
        WFI_TRY(wf_worker_create(&run->workers[i_worker], run->plan, err));
    if (run->partials[i_worker] == NULL)
        WFI_TRY(wf_partial_create(&run->partials[i_worker], run->plan, err));
    if (task.begins_slice && run->sink->watch != NULL)
        WFI_TRY(run->sink->watch(run->sink->context, &task.slice, i_worker, err));
    return wf_plan_execute(run->plan, run->workers[i_worker], &task.slice, task.i_stretch,
                           run->partials[i_worker], err);
}

static wf_status add_stretch(void *context, size_t i_task, size_t i_worker, wf_error *err)
{
    slices *run = context;
    const wfi_slices_sink *sink = run->sink;
    const wfi_task task = wfi_tasks_get(run->tasks, i_task);
    if (task.begins_slice && sink->take != NULL)
        sink->take(sink->context, i_worker);
    if (task.begins_slice && task.ends_slice)
        return sink->finish(sink->context, &task.slice, run->partials[i_worker], err);
    if (task.begins_slice)
        wf_partial_clear(run->total, run->plan);
    wf_partial_add(run->total, run->plan, run->partials[i_worker]);
    return task.ends_slice ? sink->finish(sink->context, &task.slice, run->total, err) : WF_OK;
}

wf_status wfi_slices_run(const wfi_tasks *tasks, size_t n_threads, const wfi_slices_sink *sink,
                         wf_error *err)
{
    slices run = {.tasks = tasks, .plan = tasks->session->plan, .sink = sink};
    wf_status status = wfi_allocate(&run.workers, n_threads, sizeof *run.workers, "workers", err);
    if (status == WF_OK)
        status = wfi_allocate(&run.partials, n_threads, sizeof *run.partials, "sums", err);
    if (status == WF_OK)
        status = wf_partial_create(&run.total, run.plan, err);
    if (status == WF_OK)
        status = wfi_ordered_for(tasks->n_tasks, n_threads, work_stretch, add_stretch, &run, err);
    for (size_t i = 0; run.workers != NULL && i < n_threads; i++)
        wf_worker_destroy(run.workers[i]);
    for (size_t i = 0; run.partials != NULL && i < n_threads; i++)
        wf_partial_destroy(run.partials[i]);
    wf_partial_destroy(run.total);
    wfi_free(run.workers);
    wfi_free(run.partials);
    return status;
}
