/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_findings.h"

#include "base/memory.h"
#include "base/status.h"

wf_status wfi_run_list_append(wfi_run_list *list, wfi_run run, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&list->runs, &list->capacity, list->n + 1, sizeof run,
                              "the index of a recording", err));
    list->runs[list->n++] = run;
    return WF_OK;
}

void wfi_run_list_release(wfi_run_list *list)
{
    wfi_free(list->runs);
    *list = (wfi_run_list){0};
}

wf_status wfi_findings_create(wfi_findings *out, uint32_t i_file, size_t n_threads, wf_error *err)
{
    *out = (wfi_findings){.i_file = i_file, .n_threads = n_threads};
    return wfi_allocate(&out->threads, n_threads, sizeof *out->threads, "the index of a recording",
                        err);
}

void wfi_findings_release(wfi_findings *findings)
{
    for (size_t i = 0; findings->threads != NULL && i < findings->n_threads; i++)
        wfi_run_list_release(&findings->threads[i]);
    wfi_free(findings->threads);
    wfi_free(findings->standers);
    *findings = (wfi_findings){0};
}

static bool goes_on(const wfi_run *last, const wfi_run *next)
{
    const int64_t stride = last->n > 1 ? last->stride : next->offset - last->offset;
    return next->k == last->k + last->n && next->offset == last->offset + last->n * stride &&
           (next->n == 1 || next->stride == stride) && stride > 0 && next->proven == last->proven;
}

/* A run that begins within the one before it (frames stand twice, a clock went back) ends where
 * that one ends: what is new is a run of its own. */
static bool passes_an_end(const wfi_run_list *list, int64_t k)
{
    if (list->n < 2)
        return false;
    const wfi_run *last = &list->runs[list->n - 1];
    const int64_t end = list->runs[list->n - 2].k + list->runs[list->n - 2].n;
    return last->k < end && k >= end;
}

static wf_status begin_run(wfi_run_list *list, wfi_run run, wf_error *err)
{
    const wfi_run *last = list->n > 0 ? &list->runs[list->n - 1] : NULL;
    const int64_t end = last != NULL ? last->k + last->n : INT64_MIN;
    if (run.k < end && end < run.k + run.n) {
        WFI_TRY(wfi_run_list_append(list, wfi_run_part(run, run.k, end), err));
        run = wfi_run_part(run, end, run.k + run.n);
    }
    return wfi_run_list_append(list, run, err);
}

wf_status wfi_findings_add_run(wfi_findings *findings, size_t i_thread, wfi_run run, wf_error *err)
{
    wfi_run_list *list = &findings->threads[i_thread];
    run.i_file = findings->i_file;
    wfi_run *last = list->n > 0 ? &list->runs[list->n - 1] : NULL;
    if (last == NULL || !goes_on(last, &run) || passes_an_end(list, run.k))
        return begin_run(list, run, err);
    last->stride = last->n > 1 ? last->stride : run.offset - last->offset;
    last->n += run.n;
    return WF_OK;
}

static bool stands_on(const wfi_stander *last, const wfi_stander *next)
{
    return last->kind == next->kind && last->i_thread == next->i_thread &&
           last->offset + last->n_bytes == next->offset && !last->has_k && !next->has_k;
}

wf_status wfi_findings_add_stander(wfi_findings *findings, wfi_stander stander, wf_error *err)
{
    wfi_stander *last =
        findings->n_standers > 0 ? &findings->standers[findings->n_standers - 1] : NULL;
    if (last != NULL && stands_on(last, &stander)) {
        last->n_bytes += stander.n_bytes;
        last->n_frames += stander.n_frames;
        return WF_OK;
    }
    WFI_TRY(wfi_array_reserve(&findings->standers, &findings->standers_capacity,
                              findings->n_standers + 1, sizeof stander, "the index of a recording",
                              err));
    findings->standers[findings->n_standers++] = stander;
    return WF_OK;
}

size_t wfi_run_list_after(const wfi_run_list *list, int64_t k)
{
    size_t low = 0;
    size_t high = list->n;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (wfi_run_end(&list->runs[middle]) <= k)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

wf_status wfi_run_list_cut(const wfi_run_list *list, int64_t from, int64_t to, wfi_run_list *out,
                           wf_error *err)
{
    for (size_t i = wfi_run_list_after(list, from); i < list->n && list->runs[i].k < to; i++) {
        const wfi_run *run = &list->runs[i];
        const int64_t begin = run->k > from ? run->k : from;
        const int64_t end = wfi_run_end(run) < to ? wfi_run_end(run) : to;
        WFI_TRY(wfi_run_list_append(out, wfi_run_part(*run, begin, end), err));
    }
    return WF_OK;
}
