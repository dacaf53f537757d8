/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Samples of a recording of any format, and which of them count. */
#include <inttypes.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/invalid_runs.h"
#include "recording/recording_state.h"

/* A thread without what is excluded of some of its streams. */
typedef struct part {
    wfi_invalid_runs runs;
    wf_packed packed;
} part;

struct wf_window {
    const wf_recording *recording;
    int64_t capacity;
    void *reader;
    wf_packed *threads; /* [n_threads] */
    part *parts;        /* [exclusions.n_list][n_threads] */
};

wf_status wf_window_create(wf_window **out, const wf_recording *recording, int64_t capacity,
                           wf_error *err)
{
    *out = NULL;
    if (capacity < 0 || capacity > WFI_FARTHEST_SAMPLE)
        return wfi_fail(err, WF_ARGUMENT, "a window of %" PRId64 " samples", capacity);
    wf_window *window = NULL;
    WFI_TRY(wfi_allocate(&window, 1, sizeof *window, "a window", err));
    window->recording = recording;
    window->capacity = capacity;
    wf_status status = wfi_allocate(&window->threads, recording->info.n_threads,
                                    sizeof *window->threads, "the threads of a window", err);
    const size_t n_parts = recording->exclusions.n_list * recording->info.n_threads;
    if (status == WF_OK)
        status = wfi_allocate(&window->parts, n_parts, sizeof *window->parts,
                              "the threads of a window", err);
    if (status == WF_OK)
        status = recording->format->reader_create(&window->reader, recording->state, capacity, err);
    if (status != WF_OK) {
        wf_window_destroy(window);
        return status;
    }
    *out = window;
    return WF_OK;
}

static size_t count_parts(const wf_window *window)
{
    return window->recording->exclusions.n_list * window->recording->info.n_threads;
}

void wf_window_destroy(wf_window *window)
{
    if (window == NULL)
        return;
    window->recording->format->reader_destroy(window->reader);
    for (size_t i = 0; window->parts != NULL && i < count_parts(window); i++)
        wfi_invalid_runs_release(&window->parts[i].runs);
    wfi_free(window->parts);
    wfi_free(window->threads);
    wfi_free(window);
}

/* Append a run to runs that ascend by their beginnings and may overlap. */
static wf_status append_run(wfi_invalid_runs *runs, wf_sample_range run, wf_error *err)
{
    const wf_sample_range *last = runs->n > 0 ? &runs->runs[runs->n - 1] : NULL;
    const int64_t free_from = last != NULL ? last->first + last->n : INT64_MIN;
    const int64_t end = run.first + run.n;
    const int64_t first = run.first > free_from ? run.first : free_from;
    return wfi_invalid_runs_append(runs, first, end - first, err);
}

static wf_sample_range clip(wf_sample_range run, const wf_packed *packed)
{
    const int64_t first = run.first > packed->first ? run.first : packed->first;
    const int64_t packed_end = packed->first + packed->n;
    const int64_t end = run.first + run.n < packed_end ? run.first + run.n : packed_end;
    return (wf_sample_range){first, end > first ? end - first : 0};
}

/* What is invalid of a thread, and what is excluded. */
static wf_status exclude(const wf_packed *whole, const wfi_exclusion *exclusion, part *out,
                         wf_error *err)
{
    size_t i = 0;
    size_t k = 0;
    out->runs.n = 0;
    while (i < whole->n_invalid || k < exclusion->n_ranges) {
        const bool take_invalid =
            k == exclusion->n_ranges ||
            (i < whole->n_invalid && whole->invalid[i].first <= exclusion->ranges[k].first);
        const wf_sample_range run =
            take_invalid ? whole->invalid[i++] : clip(exclusion->ranges[k++], whole);
        if (run.n > 0)
            WFI_TRY(append_run(&out->runs, run, err));
    }
    out->packed = *whole;
    out->packed.invalid = out->runs.runs;
    out->packed.n_invalid = out->runs.n;
    return WF_OK;
}

wf_status wf_window_load(wf_window *window, int64_t first, int64_t n, wf_error *err)
{
    if (n < 0 || n > window->capacity)
        return wfi_fail(err, WF_ARGUMENT,
                        "%" PRId64 " samples were asked of a window made for %" PRId64, n,
                        window->capacity);
    if (first < -WFI_FARTHEST_SAMPLE || first > WFI_FARTHEST_SAMPLE)
        return wfi_fail(err, WF_ARGUMENT, "sample number %" PRId64 " is in no recording", first);
    const wf_recording *recording = window->recording;
    const wf_status status =
        recording->format->load(window->reader, window->threads, first, n, err);
    if (status != WF_OK && recording->owner[0] != '\0')
        wfi_prefix(err, "station %s: ", recording->owner);
    WFI_TRY(status);
    const size_t n_threads = recording->info.n_threads;
    for (size_t i = 0; i < count_parts(window); i++)
        WFI_TRY(exclude(&window->threads[i % n_threads], &recording->exclusions.list[i / n_threads],
                        &window->parts[i], err));
    return WF_OK;
}

const wf_packed *wf_window_thread(const wf_window *window, size_t i_thread)
{
    return &window->threads[i_thread];
}

const wf_packed *wf_window_thread_without(const wf_window *window, size_t i_thread,
                                          size_t i_exclusion)
{
    if (i_exclusion == WF_NO_EXCLUSION)
        return &window->threads[i_thread];
    return &window->parts[i_exclusion * window->recording->info.n_threads + i_thread].packed;
}
