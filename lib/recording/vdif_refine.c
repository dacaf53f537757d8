/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_refine.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_losses.h"
#include "recording/vdif_resolve.h"
#include "recording/vdif_scan.h"

void wfi_refined_destroy(wfi_refined *r)
{
    if (r == NULL)
        return;
    for (size_t t = 0; r->threads != NULL && t < r->n_threads; t++)
        wfi_run_list_release(&r->threads[t]);
    wfi_free(r->threads);
    wfi_free(r->begin);
    wfi_free(r->end);
    wfi_free(r);
}

static void frames_trusted(const wfi_vdif_index *index, size_t i_file, const wfi_interval *interval,
                           wfi_refined *r)
{
    for (size_t t = 0; t < r->n_threads; t++) {
        const wfi_run_list *list = &index->threads[t];
        for (size_t i = 0; i < list->n; i++) {
            const wfi_run *run = &list->runs[i];
            const int64_t stride = run->stride > 0 ? run->stride : 1;
            const int64_t last = run->offset + (run->n - 1) * run->stride;
            if (run->i_file != i_file || run->proven || last < interval->begin ||
                run->offset >= interval->end)
                continue;
            const int64_t skip = interval->begin - run->offset;
            const int64_t from = run->k + (skip > 0 ? (skip + stride - 1) / stride : 0);
            const int64_t to = run->k + (interval->end - run->offset + stride - 1) / stride;
            const int64_t end = to < wfi_run_end(run) ? to : wfi_run_end(run);
            if (r->begin[t] == r->end[t])
                r->begin[t] = from;
            r->end[t] = end;
        }
    }
}

static wf_status keep_within(wfi_run_list *list, int64_t begin, int64_t end, wf_error *err)
{
    wfi_run_list kept = {0};
    const wf_status status = wfi_run_list_cut(list, begin, end, &kept, err);
    wfi_run_list_release(list);
    *list = kept;
    return status;
}

/* Frames of the interval itself only: what stands in it and belongs elsewhere could be met, or not,
 * by chance, and would make what is read depend on it. */
static wf_status sort_out(const wfi_vdif_index *index, size_t t, wfi_findings *findings,
                          wfi_refined *r, wfi_fault_list *faults, wf_error *err)
{
    wfi_resolved resolved;
    wfi_run_list extra = {0};
    wf_status status = wfi_vdif_resolve(index->stream, t, findings, &resolved, err);
    if (status == WF_OK)
        status = keep_within(&resolved.chain, r->begin[t], r->end[t], err);
    if (status == WF_OK)
        status = keep_within(&resolved.moved, r->begin[t], r->end[t], err);
    if (status == WF_OK)
        status = wfi_runs_merge(&resolved.chain, &resolved.moved, &r->threads[t], &extra, err);
    if (status == WF_OK)
        status = wfi_vdif_log_runs(index->stream, t, WF_FAULT_DUPLICATE, &extra, faults, err);
    if (status == WF_OK && resolved.moved.n > extra.n)
        status = wfi_vdif_log_runs(index->stream, t, WF_FAULT_OUT_OF_ORDER, &resolved.moved, faults,
                                   err);
    wfi_run_list_release(&extra);
    wfi_resolved_release(&resolved);
    return status;
}

static wf_status sort_out_all(const wfi_vdif_index *index, wfi_findings *findings, wfi_refined *r,
                              wf_error *err)
{
    wfi_fault_list faults = {0};
    wf_status status = WF_OK;
    for (size_t t = 0; t < r->n_threads && status == WF_OK; t++)
        status = sort_out(index, t, findings, r, &faults, err);
    const wfi_loss_scene scene = {.stream = index->stream,
                                  .threads = r->threads,
                                  .begin = r->begin,
                                  .end = r->end,
                                  .findings = findings,
                                  .n_findings = 1};
    if (status == WF_OK)
        status = wfi_vdif_log_losses(&scene, &faults, err);
    if (status == WF_OK)
        status = wfi_fault_log_take(index->stream->log, &faults, err);
    wfi_fault_list_release(&faults);
    return status;
}

static wf_status look_closely(const wfi_vdif_index *index, size_t i_file,
                              const wfi_interval *interval, wfi_refined *r, wf_error *err)
{
    const size_t n_threads = index->stream->n_threads;
    wfi_findings findings = {0};
    wfi_scanner scanner = {0};
    r->n_threads = n_threads;
    WFI_TRY(wfi_allocate(&r->threads, n_threads, sizeof *r->threads, "the index", err));
    WFI_TRY(wfi_allocate(&r->begin, n_threads, sizeof *r->begin, "the index", err));
    WFI_TRY(wfi_allocate(&r->end, n_threads, sizeof *r->end, "the index", err));
    frames_trusted(index, i_file, interval, r);
    wf_status status = wfi_findings_create(&findings, (uint32_t)i_file, n_threads, err);
    if (status == WF_OK)
        status = wfi_scanner_create(&scanner, index->stream, i_file, err);
    if (status == WF_OK)
        status = wfi_scanner_scan(&scanner, interval->begin, interval->end, &findings, err);
    if (status == WF_OK)
        status = sort_out_all(index, &findings, r, err);
    wfi_scanner_release(&scanner);
    wfi_findings_release(&findings);
    return status;
}

wf_status wfi_refined_create(wfi_refined **out, const wfi_vdif_index *index, size_t i_file,
                             const wfi_interval *interval, wf_error *err)
{
    wfi_refined *r = NULL;
    *out = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "the index", err));
    const wf_status status = look_closely(index, i_file, interval, r, err);
    if (status == WF_OK)
        *out = r;
    else
        wfi_refined_destroy(r);
    return status;
}
