/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_index.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_index_make.h"
#include "recording/vdif_refine.h"

wf_status wfi_vdif_index_create(wfi_vdif_index *out, wfi_vdif_stream *stream, bool exact,
                                wf_error *err)
{
    *out = (wfi_vdif_index){.stream = stream};
    pthread_mutex_init(&out->lock, NULL);
    WFI_TRY(wfi_allocate(&out->threads, stream->n_threads, sizeof *out->threads, "the index", err));
    WFI_TRY(wfi_allocate(&out->others, stream->n_threads, sizeof *out->others, "the index", err));
    WFI_TRY(
        wfi_allocate(&out->longest_other, stream->n_threads, sizeof(int64_t), "the index", err));
    WFI_TRY(
        wfi_allocate(&out->intervals, stream->n_files, sizeof *out->intervals, "the index", err));
    return wfi_vdif_index_make(out, exact, err);
}

void wfi_vdif_index_destroy(wfi_vdif_index *index)
{
    if (index == NULL || index->stream == NULL)
        return;
    for (size_t f = 0; index->intervals != NULL && f < index->stream->n_files; f++) {
        for (size_t i = 0; i < index->intervals[f].n; i++)
            wfi_refined_destroy(index->intervals[f].intervals[i].refined);
        wfi_free(index->intervals[f].intervals);
    }
    for (size_t t = 0; t < index->stream->n_threads; t++) {
        if (index->threads != NULL)
            wfi_run_list_release(&index->threads[t]);
        if (index->others != NULL)
            wfi_run_list_release(&index->others[t]);
    }
    wfi_free(index->intervals);
    wfi_free(index->threads);
    wfi_free(index->others);
    wfi_free(index->longest_other);
    pthread_mutex_destroy(&index->lock);
    *index = (wfi_vdif_index){0};
}

/* The interval that holds a byte, or the next one; NULL: there is none. */
static wfi_interval *interval_from(const wfi_vdif_index *index, size_t i_file, int64_t offset)
{
    wfi_interval_list *list = &index->intervals[i_file];
    size_t low = 0;
    size_t high = list->n;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (list->intervals[middle].end <= offset)
            low = middle + 1;
        else
            high = middle;
    }
    return low < list->n ? &list->intervals[low] : NULL;
}

static wfi_interval *interval_at(const wfi_vdif_index *index, size_t i_file, int64_t offset)
{
    wfi_interval *interval = interval_from(index, i_file, offset);
    return interval != NULL && interval->begin <= offset ? interval : NULL;
}

/* A part of a run on trust, some of whose intervals were looked at since. */
static wf_status find_refined(const wfi_vdif_index *index, size_t i_thread, wfi_run part,
                              wfi_run_list *out, wf_error *err)
{
    while (part.n > 0) {
        const wfi_interval *interval = interval_from(index, part.i_file, part.offset);
        const bool inside = interval != NULL && interval->begin <= part.offset;
        const int64_t limit = interval == NULL ? INT64_MAX
                              : inside         ? interval->end
                                               : interval->begin;
        int64_t n = part.n;
        if (limit != INT64_MAX && part.stride > 0 &&
            (limit - part.offset + part.stride - 1) / part.stride < n)
            n = (limit - part.offset + part.stride - 1) / part.stride;
        if (inside && interval->refined != NULL)
            WFI_TRY(wfi_run_list_cut(&interval->refined->threads[i_thread], part.k, part.k + n, out,
                                     err));
        else
            WFI_TRY(wfi_run_list_append(out, wfi_run_part(part, part.k, part.k + n), err));
        part = wfi_run_part(part, part.k + n, wfi_run_end(&part));
    }
    return WF_OK;
}

static wf_status find(const wfi_vdif_index *index, size_t i_thread, int64_t k, int64_t n,
                      wfi_run_list *out, wf_error *err)
{
    const wfi_run_list *list = &index->threads[i_thread];
    if (!index->any_refined)
        return wfi_run_list_cut(list, k, k + n, out, err);
    for (size_t i = wfi_run_list_after(list, k); i < list->n && list->runs[i].k < k + n; i++) {
        const wfi_run *run = &list->runs[i];
        const int64_t begin = run->k > k ? run->k : k;
        const int64_t end = wfi_run_end(run) < k + n ? wfi_run_end(run) : k + n;
        const wfi_run part = wfi_run_part(*run, begin, end);
        WFI_TRY(run->proven ? wfi_run_list_append(out, part, err)
                            : find_refined(index, i_thread, part, out, err));
    }
    return WF_OK;
}

wf_status wfi_vdif_index_find(wfi_vdif_index *index, size_t i_thread, int64_t k, int64_t n,
                              wfi_run_list *out, wf_error *err)
{
    pthread_mutex_lock(&index->lock);
    const wf_status status = find(index, i_thread, k, n, out, err);
    pthread_mutex_unlock(&index->lock);
    return status;
}

bool wfi_vdif_index_find_other(const wfi_vdif_index *index, size_t i_thread, int64_t k,
                               wfi_run *out)
{
    const wfi_run_list *list = &index->others[i_thread];
    size_t low = 0;
    size_t high = list->n;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (list->runs[middle].k + index->longest_other[i_thread] <= k)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < list->n && list->runs[low].k <= k; low++) {
        if (wfi_run_end(&list->runs[low]) > k) {
            *out = wfi_run_part(list->runs[low], k, k + 1);
            return true;
        }
    }
    return false;
}

wf_status wfi_vdif_index_refine(wfi_vdif_index *index, size_t i_file, int64_t offset, bool *exact,
                                wf_error *err)
{
    wf_status status = WF_OK;
    pthread_mutex_lock(&index->lock);
    wfi_interval *interval = interval_at(index, i_file, offset);
    if (interval != NULL && interval->refined == NULL) {
        status = wfi_refined_create(&interval->refined, index, i_file, interval, err);
        index->any_refined = index->any_refined || status == WF_OK;
    }
    *exact = interval != NULL && interval->refined != NULL;
    pthread_mutex_unlock(&index->lock);
    return status;
}
