/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_index.h"

#include <inttypes.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_losses.h"
#include "recording/vdif_resolve.h"
#include "recording/vdif_scan.h"

/* Recordings of no more frames are looked at header by header: that takes milliseconds. */
enum { FEW_FRAMES = 1 << 13 };

/* What stands in an interval once every header in it was seen. */
typedef struct wfi_refined {
    size_t n_threads;
    wfi_run_list *threads; /* [n_threads] */
    int64_t *begin;        /* [n_threads] frames that the interval was trusted to hold */
    int64_t *end;          /* [n_threads] */
} wfi_refined;

/* ----- making it */

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

static wf_status make(wfi_vdif_index *index, bool exact, wf_error *err)
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
    return make(out, exact, err);
}

static void destroy_refined(wfi_refined *r)
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

void wfi_vdif_index_destroy(wfi_vdif_index *index)
{
    if (index == NULL || index->stream == NULL)
        return;
    for (size_t f = 0; index->intervals != NULL && f < index->stream->n_files; f++) {
        for (size_t i = 0; i < index->intervals[f].n; i++)
            destroy_refined(index->intervals[f].intervals[i].refined);
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

/* ----- asking it */

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

static wf_status find_in(const wfi_run_list *list, int64_t from, int64_t to, wfi_run_list *out,
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
            WFI_TRY(find_in(&interval->refined->threads[i_thread], part.k, part.k + n, out, err));
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
        return find_in(list, k, k + n, out, err);
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

/* ----- making it exact */

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
    const wf_status status = find_in(list, begin, end, &kept, err);
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

wf_status wfi_vdif_index_refine(wfi_vdif_index *index, size_t i_file, int64_t offset, bool *exact,
                                wf_error *err)
{
    wf_status status = WF_OK;
    pthread_mutex_lock(&index->lock);
    wfi_interval *interval = interval_at(index, i_file, offset);
    if (interval != NULL && interval->refined == NULL) {
        wfi_refined *r = NULL;
        status = wfi_allocate(&r, 1, sizeof *r, "the index", err);
        if (status == WF_OK)
            status = look_closely(index, i_file, interval, r, err);
        if (status == WF_OK) {
            interval->refined = r;
            index->any_refined = true;
        } else {
            destroy_refined(r);
        }
    }
    *exact = interval != NULL && interval->refined != NULL;
    pthread_mutex_unlock(&index->lock);
    return status;
}
