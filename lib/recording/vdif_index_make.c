/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From what stands in the files to the index: every frame in its place, files put together in the
 * job's order, and what is wrong with them into the log. */
#include "recording/vdif_index_make.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_losses.h"
#include "recording/vdif_resolve.h"

/* Recordings of no more frames are looked at header by header: that takes milliseconds. */
enum { FEW_FRAMES = 1 << 13 };

static bool even_rates(const wfi_vdif_stream *stream)
{
    for (size_t i = 1; i < stream->n_threads; i++)
        if (stream->threads[i].frames_per_second != stream->threads[0].frames_per_second)
            return false;
    return true;
}

static bool is_small(const wfi_vdif_stream *stream)
{
    int64_t n_bytes = 0;
    for (size_t i = 0; i < stream->n_files; i++)
        n_bytes += stream->files[i].input.n_bytes;
    return n_bytes / stream->longest_frame <= FEW_FRAMES;
}

static wf_status look_at_files(wfi_vdif_index *index, bool exact, wfi_findings *findings,
                               wf_error *err)
{
    const wfi_vdif_stream *stream = index->stream;
    for (size_t f = 0; f < stream->n_files; f++) {
        WFI_TRY(wfi_findings_create(&findings[f], (uint32_t)f, stream->n_threads, err));
        WFI_TRY(wfi_vdif_sample(stream, f, exact, &findings[f], &index->intervals[f], err));
    }
    return WF_OK;
}

/* Move the origin to the whole second of the earliest frame. */
static wf_status settle_origin(wfi_vdif_index *index, wfi_resolved *resolved, wf_error *err)
{
    wfi_vdif_stream *stream = index->stream;
    const int64_t rate = stream->sample_rate_hz;
    int64_t first = INT64_MAX;
    for (size_t i = 0; i < stream->n_files * stream->n_threads; i++) {
        const int64_t length = stream->threads[i % stream->n_threads].samples_per_frame;
        const wfi_run_list *lists[] = {&resolved[i].chain, &resolved[i].moved};
        for (size_t l = 0; l < 2; l++)
            if (lists[l]->n > 0 && lists[l]->runs[0].k * length < first)
                first = lists[l]->runs[0].k * length;
    }
    if (first == INT64_MAX)
        return wfi_fail(err, WF_FORMAT,
                        "%s: no valid frame at the beginning, the end, or between: nothing can "
                        "be correlated from it",
                        stream->files[0].input.path);
    const int64_t seconds = (first - (first % rate + rate) % rate) / rate;
    stream->origin_second += seconds;
    for (size_t i = 0; i < stream->n_files * stream->n_threads; i++) {
        const int64_t shift = seconds * stream->threads[i % stream->n_threads].frames_per_second;
        for (size_t k = 0; k < resolved[i].chain.n; k++)
            resolved[i].chain.runs[k].k -= shift;
        for (size_t k = 0; k < resolved[i].moved.n; k++)
            resolved[i].moved.runs[k].k -= shift;
    }
    return WF_OK;
}

static void shift_standers(const wfi_vdif_stream *stream, wfi_findings *findings, int64_t seconds)
{
    for (size_t f = 0; f < stream->n_files; f++)
        for (size_t i = 0; i < findings[f].n_standers; i++) {
            wfi_stander *s = &findings[f].standers[i];
            if (s->has_k)
                s->k -= seconds * stream->threads[s->i_thread].frames_per_second;
        }
}

static wf_status merge_into(wfi_run_list *have, const wfi_run_list *more, wfi_run_list *extra,
                            wf_error *err)
{
    wfi_run_list out = {0};
    if (more->n == 0)
        return WF_OK;
    const wf_status status = wfi_runs_merge(have, more, &out, extra, err);
    wfi_run_list_release(have);
    *have = out;
    return status;
}

/* What stands where it belongs goes before what was moved; files in the order of the job. */
static wf_status merge_thread(wfi_vdif_index *index, size_t t, const wfi_resolved *resolved,
                              wfi_fault_list *faults, wf_error *err)
{
    const wfi_vdif_stream *stream = index->stream;
    for (size_t f = 0; f < stream->n_files; f++)
        WFI_TRY(merge_into(&index->threads[t], &resolved[f * stream->n_threads + t].chain,
                           &index->others[t], err));
    WFI_TRY(wfi_vdif_log_runs(stream, t, WF_FAULT_DUPLICATE, &index->others[t], faults, err));
    for (size_t f = 0; f < stream->n_files; f++) {
        const wfi_run_list *moved = &resolved[f * stream->n_threads + t].moved;
        wfi_run_list extra = {0};
        wf_status status = merge_into(&index->threads[t], moved, &extra, err);
        for (size_t i = 0; i < extra.n && status == WF_OK; i++)
            status = wfi_run_list_append(&index->others[t], extra.runs[i], err);
        if (status == WF_OK)
            status = wfi_vdif_log_runs(stream, t, WF_FAULT_DUPLICATE, &extra, faults, err);
        wfi_run_list_release(&extra);
        WFI_TRY(status);
    }
    return WF_OK;
}

/* Of what was moved, what is in the index now: out of order. */
static wf_status log_moved(const wfi_vdif_index *index, size_t t, const wfi_resolved *resolved,
                           wfi_fault_list *faults, wf_error *err)
{
    const wfi_vdif_stream *stream = index->stream;
    wfi_run_list moved = {0};
    wf_status status = WF_OK;
    for (size_t f = 0; f < stream->n_files && status == WF_OK; f++) {
        const wfi_run_list *list = &resolved[f * stream->n_threads + t].moved;
        for (size_t i = 0; i < list->n && status == WF_OK; i++) {
            const wfi_run *run = &list->runs[i];
            const size_t at = wfi_run_list_after(&index->threads[t], run->k);
            const wfi_run *there = at < index->threads[t].n ? &index->threads[t].runs[at] : NULL;
            if (there != NULL && there->i_file == run->i_file &&
                there->offset + (run->k - there->k) * there->stride == run->offset)
                status = wfi_run_list_append(&moved, *run, err);
        }
    }
    if (status == WF_OK)
        status = wfi_vdif_log_runs(stream, t, WF_FAULT_OUT_OF_ORDER, &moved, faults, err);
    wfi_run_list_release(&moved);
    return status;
}

static wf_status merge_threads(wfi_vdif_index *index, const wfi_resolved *resolved,
                               wfi_fault_list *faults, wf_error *err)
{
    for (size_t t = 0; t < index->stream->n_threads; t++) {
        WFI_TRY(merge_thread(index, t, resolved, faults, err));
        WFI_TRY(log_moved(index, t, resolved, faults, err));
        wfi_runs_sort(&index->others[t]);
        for (size_t i = 0; i < index->others[t].n; i++)
            if (index->others[t].runs[i].n > index->longest_other[t])
                index->longest_other[t] = index->others[t].runs[i].n;
    }
    return WF_OK;
}

static void find_span(wfi_vdif_index *index)
{
    wfi_vdif_stream *stream = index->stream;
    stream->first_sample = INT64_MAX;
    stream->end_sample = INT64_MIN;
    for (size_t t = 0; t < stream->n_threads; t++) {
        const wfi_run_list *list = &index->threads[t];
        const int64_t length = stream->threads[t].samples_per_frame;
        if (list->n == 0)
            continue;
        const int64_t first = list->runs[0].k * length;
        const int64_t end = wfi_run_end(&list->runs[list->n - 1]) * length;
        stream->first_sample = first < stream->first_sample ? first : stream->first_sample;
        stream->end_sample = end > stream->end_sample ? end : stream->end_sample;
    }
}

static wf_status log_losses(wfi_vdif_index *index, wfi_findings *findings, wfi_fault_list *faults,
                            wf_error *err)
{
    const wfi_vdif_stream *stream = index->stream;
    int64_t *bounds = NULL;
    WFI_TRY(wfi_allocate(&bounds, 2 * stream->n_threads, sizeof *bounds, "the losses", err));
    for (size_t t = 0; t < stream->n_threads; t++) {
        const int64_t length = stream->threads[t].samples_per_frame;
        bounds[t] = stream->first_sample / length;
        bounds[stream->n_threads + t] = (stream->end_sample + length - 1) / length;
    }
    const wfi_loss_scene scene = {.stream = stream,
                                  .threads = index->threads,
                                  .begin = bounds,
                                  .end = bounds + stream->n_threads,
                                  .findings = findings,
                                  .n_findings = stream->n_files};
    const wf_status status = wfi_vdif_log_losses(&scene, faults, err);
    wfi_free(bounds);
    return status;
}

static wf_status warn_of_empty_files(const wfi_vdif_stream *stream, const wfi_findings *findings,
                                     wf_error *err)
{
    for (size_t f = 0; f < stream->n_files; f++) {
        size_t n = 0;
        for (size_t t = 0; t < stream->n_threads; t++)
            n += findings[f].threads[t].n;
        if (n == 0)
            WFI_TRY(wfi_fault_log_warn(stream->log, err, "%s: holds no valid frame",
                                       stream->files[f].input.path));
    }
    return WF_OK;
}

static wf_status put_together(wfi_vdif_index *index, wfi_findings *findings, wfi_resolved *resolved,
                              wf_error *err)
{
    wfi_vdif_stream *stream = index->stream;
    wfi_fault_list faults = {0};
    for (size_t i = 0; i < stream->n_files * stream->n_threads; i++)
        WFI_TRY(wfi_vdif_resolve(stream, i % stream->n_threads, &findings[i / stream->n_threads],
                                 &resolved[i], err));
    const int64_t before = stream->origin_second;
    WFI_TRY(settle_origin(index, resolved, err));
    shift_standers(stream, findings, stream->origin_second - before);
    wf_status status = warn_of_empty_files(stream, findings, err);
    if (status == WF_OK)
        status = merge_threads(index, resolved, &faults, err);
    find_span(index);
    if (status == WF_OK)
        status = log_losses(index, findings, &faults, err);
    if (status == WF_OK)
        status = wfi_fault_log_take(stream->log, &faults, err);
    wfi_fault_list_release(&faults);
    return status;
}

wf_status wfi_vdif_index_make(wfi_vdif_index *index, bool exact, wf_error *err)
{
    const wfi_vdif_stream *stream = index->stream;
    const size_t n = stream->n_files * stream->n_threads;
    wfi_findings *findings = NULL;
    wfi_resolved *resolved = NULL;
    exact = exact || is_small(stream) || !even_rates(stream);
    wf_status status = wfi_allocate(&findings, stream->n_files, sizeof *findings, "the index", err);
    if (status == WF_OK)
        status = wfi_allocate(&resolved, n, sizeof *resolved, "the index", err);
    if (status == WF_OK)
        status = look_at_files(index, exact, findings, err);
    if (status == WF_OK)
        status = put_together(index, findings, resolved, err);
    for (size_t i = 0; resolved != NULL && i < n; i++)
        wfi_resolved_release(&resolved[i]);
    for (size_t i = 0; findings != NULL && i < stream->n_files; i++)
        wfi_findings_release(&findings[i]);
    wfi_free(resolved);
    wfi_free(findings);
    return status;
}
