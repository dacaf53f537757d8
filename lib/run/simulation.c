/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All recordings of a sky, several at a time. */
#include <whitefringe/run.h>

#include <pthread.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"

typedef struct simulation {
    const wf_sky *sky;
    const char *folder;
    size_t n_recordings;
    double *fraction_done; /* [n_recordings] */
    pthread_mutex_t lock;  /* of fraction_done and the sink */
    wf_progress_sink progress;
    void *context;
} simulation;

typedef struct recording_progress {
    simulation *whole;
    size_t i_recording;
} recording_progress;

static int tell(void *context, double fraction_done)
{
    const recording_progress *of = context;
    simulation *whole = of->whole;
    if (whole->progress == NULL)
        return 0;
    pthread_mutex_lock(&whole->lock);
    whole->fraction_done[of->i_recording] = fraction_done;
    double sum = 0;
    for (size_t i = 0; i < whole->n_recordings; i++)
        sum += whole->fraction_done[i];
    const wf_progress progress = {
        .n_done = (int64_t)(100.0 * sum / (double)whole->n_recordings),
        .n_total = 100,
        .unit = "% of the recordings",
    };
    const int stop = whole->progress(whole->context, &progress);
    pthread_mutex_unlock(&whole->lock);
    return stop;
}

static wf_status make_recording(void *context, size_t i_item, size_t i_worker, wf_error *err)
{
    (void)i_worker;
    simulation *whole = context;
    recording_progress of = {whole, i_item};
    return wf_simulate_recording(whole->sky, i_item, whole->folder, tell, &of, err);
}

wf_status wf_run_simulation(const wf_sky *sky, const char *folder, int n_threads,
                            wf_progress_sink progress, void *context, wf_error *err)
{
    const size_t n = wf_sky_n_recordings(sky);
    simulation whole = {
        .sky = sky, .folder = folder, .n_recordings = n, .progress = progress, .context = context};
    WFI_TRY(wfi_allocate(&whole.fraction_done, n, sizeof(double), "progress", err));
    pthread_mutex_init(&whole.lock, NULL);
    const size_t threads = n_threads > 0 ? (size_t)n_threads : wfi_parallel_cores();
    wf_status status = wfi_parallel_for(n, threads, make_recording, &whole, err);
    pthread_mutex_destroy(&whole.lock);
    wfi_free(whole.fraction_done);
    if (status == WF_OK)
        status = wf_simulate_write_job(sky, folder, err);
    return status;
}
