/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job cut into tasks. */
#include "run/tasks.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* Whole segments of a scan; the tolerance is for a duration that is one but for rounding. */
static int64_t segments_of_scan(const wf_observation *observation, size_t i_scan)
{
    const double n = observation->scans[i_scan].duration_s * wf_channel_width_hz(observation);
    return (int64_t)floor(n + 1e-6);
}

/* A scan's slices are of one length; the last may be shorter. */
static size_t tasks_of_scan(wfi_tasks *tasks, size_t i_scan)
{
    const wf_plan *plan = tasks->session->plan;
    const int64_t n = segments_of_scan(tasks->session->observation, i_scan);
    const int64_t n_whole = n / tasks->segments_per_slice;
    const int64_t rest = n % tasks->segments_per_slice;
    tasks->n_slices += n_whole + (rest > 0);
    return (size_t)(n_whole * wf_plan_n_stretches(plan, tasks->segments_per_slice) +
                    wf_plan_n_stretches(plan, rest));
}

wf_status wfi_tasks_create(wfi_tasks *tasks, const wfi_session *session, wf_error *err)
{
    const wf_observation *observation = session->observation;
    *tasks = (wfi_tasks){
        .session = session,
        .segments_per_slice = (int64_t)llround(observation->correlation.integration_s *
                                               wf_channel_width_hz(observation)),
    };
    WFI_TRY(
        wfi_allocate(&tasks->first_task, observation->n_scans + 1, sizeof(size_t), "tasks", err));
    for (size_t s = 0; s < observation->n_scans; s++) {
        tasks->first_task[s] = tasks->n_tasks;
        if (session->scan_wanted[s])
            tasks->n_tasks += tasks_of_scan(tasks, s);
    }
    tasks->first_task[observation->n_scans] = tasks->n_tasks;
    return WF_OK;
}

void wfi_tasks_destroy(wfi_tasks *tasks)
{
    wfi_free(tasks->first_task);
    *tasks = (wfi_tasks){0};
}

static size_t scan_of_task(const wfi_tasks *tasks, size_t i_task)
{
    size_t low = 0;
    size_t high = tasks->session->observation->n_scans;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (tasks->first_task[middle + 1] > i_task)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

wfi_task wfi_tasks_get(const wfi_tasks *tasks, size_t i_task)
{
    const wfi_session *session = tasks->session;
    const wf_observation *observation = session->observation;
    const size_t i_scan = scan_of_task(tasks, i_task);
    const int64_t in_scan = (int64_t)(i_task - tasks->first_task[i_scan]);
    const int64_t per_slice = wf_plan_n_stretches(session->plan, tasks->segments_per_slice);
    const int64_t i_slice = in_scan / per_slice;
    const int64_t left =
        segments_of_scan(observation, i_scan) - i_slice * tasks->segments_per_slice;
    const double since_s = (double)i_slice * observation->correlation.integration_s;
    wfi_task task = {
        .slice =
            {
                .i_scan = i_scan,
                .start = wf_instant_add(observation->scans[i_scan].start, since_s),
                .n_segments = left < tasks->segments_per_slice ? left : tasks->segments_per_slice,
                .tracks =
                    (const wf_track *const *)session->tracks + i_scan * observation->n_stations,
            },
        .i_stretch = in_scan % per_slice,
    };
    task.begins_slice = task.i_stretch == 0;
    task.ends_slice =
        task.i_stretch + 1 == wf_plan_n_stretches(session->plan, task.slice.n_segments);
    return task;
}
