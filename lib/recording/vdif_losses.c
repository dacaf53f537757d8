/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_losses.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

/* Frames of one thread that something else stands in place of. */
typedef struct explained {
    int64_t k;
    int64_t n;
    wf_fault_kind kind;
    uint32_t i_file;
    int64_t offset;
} explained;

typedef struct explanation {
    explained *entries;
    size_t n;
    size_t capacity;
} explanation;

/* Frames [begin, end) that are not there, between two runs; NULL: beyond all. */
typedef struct hole {
    int64_t begin;
    int64_t end;
    const wfi_run *before;
    const wfi_run *after;
} hole;

static int compare_standers(const void *p, const void *q)
{
    const wfi_stander *a = p;
    const wfi_stander *b = q;
    return (a->offset > b->offset) - (a->offset < b->offset);
}

static int compare_explained(const void *p, const void *q)
{
    const explained *a = p;
    const explained *b = q;
    return (a->k > b->k) - (a->k < b->k);
}

static wf_status explain(explanation *list, explained entry, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&list->entries, &list->capacity, list->n + 1, sizeof entry,
                              "the losses of a recording", err));
    list->entries[list->n++] = entry;
    return WF_OK;
}

static bool holds(const wfi_run_list *list, int64_t k)
{
    const size_t i = wfi_run_list_after(list, k);
    return i < list->n && list->runs[i].k <= k;
}

/* Frames that say themselves which they would be. */
static wf_status explain_by_header(const wfi_loss_scene *scene, size_t i_thread, explanation *list,
                                   bool **used, wf_error *err)
{
    for (size_t f = 0; f < scene->n_findings; f++) {
        const wfi_findings *found = &scene->findings[f];
        for (size_t i = 0; i < found->n_standers; i++) {
            const wfi_stander *s = &found->standers[i];
            if (!s->has_k || s->i_thread != (int32_t)i_thread || s->k < scene->begin[i_thread] ||
                s->k >= scene->end[i_thread] || holds(&scene->threads[i_thread], s->k))
                continue;
            used[f][i] = true;
            WFI_TRY(explain(list, (explained){s->k, 1, s->kind, found->i_file, s->offset}, err));
        }
    }
    return WF_OK;
}

static size_t first_stander(const wfi_findings *found, int64_t offset)
{
    size_t low = 0;
    size_t high = found->n_standers;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (found->standers[middle].offset + found->standers[middle].n_bytes <= offset)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static int64_t stride_of(const wfi_vdif_stream *stream, const hole *h)
{
    if (h->before->n > 1)
        return h->before->stride;
    if (h->after->n > 1)
        return h->after->stride;
    int64_t sum = 0;
    for (size_t i = 0; i < stream->n_threads; i++)
        sum += wfi_vdif_pitch(stream, h->before->i_file, stream->threads[i].pattern.frame_bytes);
    return sum;
}

/* Where as many bytes stand between the frames before and after as the frames of the hole would
 * take, each has its place, and what stands there explains it. */
static wf_status explain_by_place(const wfi_loss_scene *scene, const hole *h, explanation *list,
                                  bool **used, wf_error *err)
{
    const int64_t stride = stride_of(scene->stream, h);
    const int64_t base = h->before->offset + (h->before->n - 1) * h->before->stride;
    if (h->before->i_file != h->after->i_file ||
        h->after->offset - base != (h->end - h->begin + 1) * stride)
        return WF_OK;
    size_t f = 0;
    while (f + 1 < scene->n_findings && scene->findings[f].i_file != h->before->i_file)
        f++;
    const wfi_findings *found = &scene->findings[f];
    for (size_t i = first_stander(found, base);
         i < found->n_standers && found->standers[i].offset < h->after->offset; i++) {
        const wfi_stander *s = &found->standers[i];
        if (s->has_k && used[f][i])
            continue;
        const int64_t first = (s->offset - base + stride - 1) / stride;
        for (int64_t m = first; base + m * stride < s->offset + s->n_bytes; m++) {
            if (m < 1 || m > h->end - h->begin)
                continue;
            used[f][i] = true;
            WFI_TRY(explain(
                list, (explained){h->begin + m - 1, 1, s->kind, found->i_file, base + m * stride},
                err));
        }
    }
    return WF_OK;
}

/* Is any frame of another thread there while the hole lasts? */
static bool others_run(const wfi_loss_scene *scene, size_t i_thread, int64_t begin, int64_t end)
{
    const int64_t length = scene->stream->threads[i_thread].samples_per_frame;
    for (size_t t = 0; t < scene->stream->n_threads; t++) {
        const int64_t other = scene->stream->threads[t].samples_per_frame;
        const int64_t from = (begin * length + other - 1) / other;
        const size_t i = wfi_run_list_after(&scene->threads[t], from);
        if (t != i_thread && i < scene->threads[t].n &&
            scene->threads[t].runs[i].k * other < end * length)
            return true;
    }
    return false;
}

static wf_status log_lost(const wfi_loss_scene *scene, size_t i_thread, explained e,
                          wfi_fault_list *list, wf_error *err)
{
    const wfi_vdif_thread *thread = &scene->stream->threads[i_thread];
    return wfi_fault_list_append(list,
                                 (wfi_fault){.kind = e.kind,
                                             .i_thread = (int32_t)i_thread,
                                             .i_file = e.i_file,
                                             .loses_samples = true,
                                             .has_time = true,
                                             .offset_bytes = e.offset,
                                             .n_frames = e.n,
                                             .first = e.k * thread->samples_per_frame,
                                             .n = e.n * thread->samples_per_frame},
                                 err);
}

static wf_status log_nothing(const wfi_loss_scene *scene, size_t i_thread, const hole *h,
                             int64_t begin, int64_t end, wfi_fault_list *list, wf_error *err)
{
    if (begin >= end)
        return WF_OK;
    const bool is_long = end - begin >= scene->stream->threads[i_thread].frames_per_second;
    const wf_fault_kind kind = !is_long                                  ? WF_FAULT_MISSING
                               : others_run(scene, i_thread, begin, end) ? WF_FAULT_ABSENT
                                                                         : WF_FAULT_GAP;
    const wfi_run *near = h->after != NULL ? h->after : h->before;
    const explained e = {begin, end - begin, kind, near != NULL ? near->i_file : 0,
                         near != NULL ? near->offset : 0};
    return log_lost(scene, i_thread, e, list, err);
}

/* What is explained within a hole, and between that nothing. */
static wf_status log_hole(const wfi_loss_scene *scene, size_t i_thread, const hole *h,
                          const explanation *why, size_t *i, wfi_fault_list *list, wf_error *err)
{
    int64_t k = h->begin;
    for (; *i < why->n && why->entries[*i].k < h->end; (*i)++) {
        const explained *e = &why->entries[*i];
        if (e->k < k)
            continue;
        WFI_TRY(log_nothing(scene, i_thread, h, k, e->k, list, err));
        WFI_TRY(log_lost(scene, i_thread, *e, list, err));
        k = e->k + e->n;
    }
    return log_nothing(scene, i_thread, h, k, h->end, list, err);
}

/* Holes in order; false when there are no more. `i` is the run that ends one. */
static bool next_hole(const wfi_loss_scene *scene, size_t i_thread, size_t *i, hole *out)
{
    const wfi_run_list *list = &scene->threads[i_thread];
    for (; *i <= list->n; (*i)++) {
        const wfi_run *before = *i > 0 ? &list->runs[*i - 1] : NULL;
        const wfi_run *after = *i < list->n ? &list->runs[*i] : NULL;
        const int64_t first = scene->begin[i_thread];
        const int64_t last = scene->end[i_thread];
        const int64_t begin =
            before != NULL && wfi_run_end(before) > first ? wfi_run_end(before) : first;
        const int64_t end = after != NULL && after->k < last ? after->k : last;
        if (begin >= end)
            continue;
        *out = (hole){begin, end, before, after};
        (*i)++;
        return true;
    }
    return false;
}

static wf_status log_thread(const wfi_loss_scene *scene, size_t i_thread, bool **used,
                            wfi_fault_list *list, wf_error *err)
{
    explanation why = {0};
    hole h;
    wf_status status = explain_by_header(scene, i_thread, &why, used, err);
    for (size_t i = 0; status == WF_OK && next_hole(scene, i_thread, &i, &h);)
        if (h.before != NULL && h.after != NULL)
            status = explain_by_place(scene, &h, &why, used, err);
    if (status == WF_OK && why.n > 0)
        qsort(why.entries, why.n, sizeof *why.entries, compare_explained);
    size_t n_told = 0;
    for (size_t i = 0; status == WF_OK && next_hole(scene, i_thread, &i, &h);)
        status = log_hole(scene, i_thread, &h, &why, &n_told, list, err);
    wfi_free(why.entries);
    return status;
}

/* What explains no loss still has a time where its header says one. */
static wf_status log_rest(const wfi_vdif_stream *stream, const wfi_findings *found,
                          const bool *used, wfi_fault_list *list, wf_error *err)
{
    for (size_t i = 0; i < found->n_standers; i++) {
        const wfi_stander *s = &found->standers[i];
        if (used[i])
            continue;
        const int64_t length = s->has_k ? stream->threads[s->i_thread].samples_per_frame : 0;
        WFI_TRY(wfi_fault_list_append(list,
                                      (wfi_fault){.kind = s->kind,
                                                  .i_thread = s->i_thread,
                                                  .i_file = found->i_file,
                                                  .has_time = s->has_k,
                                                  .offset_bytes = s->offset,
                                                  .n_bytes = s->n_bytes,
                                                  .n_frames = s->n_frames,
                                                  .first = s->has_k ? s->k * length : 0,
                                                  .n = length},
                                      err));
    }
    return WF_OK;
}

wf_status wfi_vdif_log_losses(const wfi_loss_scene *scene, wfi_fault_list *list, wf_error *err)
{
    bool **used = NULL;
    WFI_TRY(wfi_allocate(&used, scene->n_findings, sizeof *used, "the losses", err));
    wf_status status = WF_OK;
    for (size_t f = 0; f < scene->n_findings && status == WF_OK; f++) {
        wfi_findings *found = &scene->findings[f];
        if (found->n_standers > 1)
            qsort(found->standers, found->n_standers, sizeof *found->standers, compare_standers);
        status = wfi_allocate(&used[f], found->n_standers, sizeof **used, "the losses", err);
    }
    for (size_t t = 0; t < scene->stream->n_threads && status == WF_OK; t++)
        status = log_thread(scene, t, used, list, err);
    for (size_t f = 0; f < scene->n_findings && status == WF_OK; f++)
        status = log_rest(scene->stream, &scene->findings[f], used[f], list, err);
    for (size_t f = 0; f < scene->n_findings; f++)
        wfi_free(used[f]);
    wfi_free(used);
    return status;
}

wf_status wfi_vdif_log_runs(const wfi_vdif_stream *stream, size_t i_thread, wf_fault_kind kind,
                            const wfi_run_list *runs, wfi_fault_list *list, wf_error *err)
{
    const wfi_vdif_thread *thread = &stream->threads[i_thread];
    for (size_t i = 0; i < runs->n; i++) {
        const wfi_run *run = &runs->runs[i];
        WFI_TRY(wfi_fault_list_append(list,
                                      (wfi_fault){.kind = kind,
                                                  .i_thread = (int32_t)i_thread,
                                                  .i_file = run->i_file,
                                                  .has_time = true,
                                                  .offset_bytes = run->offset,
                                                  .n_frames = run->n,
                                                  .first = run->k * thread->samples_per_frame,
                                                  .n = run->n * thread->samples_per_frame},
                                      err));
    }
    return WF_OK;
}
