/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one thread works with. */
#include "engine/worker.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* Samples that a chunk needs: the alignment may drift by the delay's rate within it. */
static int64_t window_capacity(const wf_plan *plan, size_t n_fft)
{
    const double n = (double)plan->chunk_segments * (double)n_fft;
    return (int64_t)(n + ceil(n * plan->largest_rate_s_per_s)) + 8;
}

static wf_status create_sources(wf_worker *worker, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    WFI_TRY(wfi_allocate(&worker->sources, plan->n_recordings, sizeof(wfi_source), "windows", err));
    for (size_t r = 0; r < plan->n_recordings; r++) {
        if (plan->recording_stream[r] == SIZE_MAX)
            continue;
        wfi_source *source = &worker->sources[r];
        const size_t n_fft = plan->grid->streams[plan->recording_stream[r]].n_fft;
        WFI_TRY(wfi_allocate(&source->alignments, plan->block_segments, sizeof(wfi_alignment),
                             "windows", err));
        WFI_TRY(wf_window_create(&source->window, plan->recordings[r], window_capacity(plan, n_fft),
                                 err));
    }
    return WF_OK;
}

static wf_status create_spectra(wf_worker *worker, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    size_t longest = 0;
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        const size_t n_fft = plan->grid->streams[k].n_fft;
        longest = n_fft > longest ? n_fft : longest;
    }
    const wfi_batch_plan *longest_batch = NULL;
    for (size_t b = 0; b < plan->bundles.n_bundles; b++) {
        const wfi_batch_plan *batch = &plan->channelizers[b].transform->batch;
        if (plan->channelizers[b].batches && (longest_batch == NULL || batch->n > longest_batch->n))
            longest_batch = batch;
    }
    return wfi_spectra_create(&worker->spectra, plan->bundles.most_streams, plan->grid->n_channels,
                              longest, longest_batch, err);
}

static wf_status create_parts(wf_worker *worker, wf_error *err)
{
    const wf_plan *plan = worker->plan;
    WFI_TRY(create_sources(worker, err));
    WFI_TRY(wfi_allocate(&worker->validity, plan->n_feeds, sizeof(wfi_validity), "validity", err));
    for (size_t f = 0; f < plan->n_feeds; f++)
        WFI_TRY(wfi_validity_create(&worker->validity[f], plan->block_segments, err));
    WFI_TRY(create_spectra(worker, err));
    WFI_TRY(wfi_allocate(&worker->slot_active, plan->pairs.n_slots, sizeof(bool), "inputs", err));
    return wfi_sums_create(&worker->sums, plan, err);
}

wf_status wf_worker_create(wf_worker **out, const wf_plan *plan, wf_error *err)
{
    *out = NULL;
    wf_worker *worker = NULL;
    WFI_TRY(wfi_allocate(&worker, 1, sizeof *worker, "a worker", err));
    worker->plan = plan;
    const wf_status status = create_parts(worker, err);
    if (status == WF_OK)
        *out = worker;
    else
        wf_worker_destroy(worker);
    return status;
}

void wf_worker_destroy(wf_worker *worker)
{
    if (worker == NULL)
        return;
    for (size_t r = 0; worker->sources != NULL && r < worker->plan->n_recordings; r++) {
        wf_window_destroy(worker->sources[r].window);
        wfi_free(worker->sources[r].alignments);
    }
    for (size_t f = 0; worker->validity != NULL && f < worker->plan->n_feeds; f++)
        wfi_validity_destroy(&worker->validity[f]);
    wfi_spectra_destroy(&worker->spectra);
    wfi_sums_destroy(&worker->sums);
    wfi_free(worker->sources);
    wfi_free(worker->validity);
    wfi_free(worker->slot_active);
    wfi_free(worker);
}
