/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/fault_log.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"

enum { SORT_FROM = 4096 /* new entries, from which on the log is put in order by itself */ };

static bool goes_on(const wfi_fault *last, const wfi_fault *next)
{
    return last->kind == next->kind && last->i_thread == next->i_thread &&
           last->part == next->part && last->i_file == next->i_file &&
           last->loses_samples == next->loses_samples && last->has_time == next->has_time &&
           next->offset_bytes >= last->offset_bytes &&
           (next->has_time ? last->first + last->n == next->first && next->n > 0
                           : last->offset_bytes + last->n_bytes == next->offset_bytes);
}

static void join(wfi_fault *last, const wfi_fault *next)
{
    last->n += next->n;
    last->n_bytes += next->n_bytes;
    last->n_frames += next->n_frames;
}

wf_status wfi_fault_list_append(wfi_fault_list *list, wfi_fault fault, wf_error *err)
{
    if (list->n > 0 && goes_on(&list->entries[list->n - 1], &fault)) {
        join(&list->entries[list->n - 1], &fault);
        return WF_OK;
    }
    WFI_TRY(wfi_array_reserve(&list->entries, &list->capacity, list->n + 1, sizeof fault,
                              "the faults of a recording", err));
    list->entries[list->n++] = fault;
    return WF_OK;
}

void wfi_fault_list_release(wfi_fault_list *list)
{
    wfi_free(list->entries);
    *list = (wfi_fault_list){0};
}

void wfi_fault_log_init(wfi_fault_log *log)
{
    *log = (wfi_fault_log){0};
    pthread_mutex_init(&log->lock, NULL);
}

void wfi_fault_log_destroy(wfi_fault_log *log)
{
    for (size_t i = 0; i < log->n_warnings; i++)
        wfi_free(log->warnings[i]);
    wfi_free(log->warnings);
    wfi_fault_list_release(&log->list);
    pthread_mutex_destroy(&log->lock);
}

wf_status wfi_fault_log_warn(wfi_fault_log *log, wf_error *err, const char *format, ...)
{
    char text[512];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    WFI_TRY(wfi_array_reserve(&log->warnings, &log->warnings_capacity, log->n_warnings + 1,
                              sizeof *log->warnings, "warnings", err));
    WFI_TRY(wfi_string_copy(&log->warnings[log->n_warnings], text, err));
    log->n_warnings++;
    return WF_OK;
}

#define BY(a, b)                                                                                   \
    if ((a) != (b))                                                                                \
    return (a) < (b) ? -1 : 1

/* Entries that may overlap or go on come to stand side by side. */
static int compare(const void *p, const void *q)
{
    const wfi_fault *a = p;
    const wfi_fault *b = q;
    BY(a->kind, b->kind);
    BY(a->i_thread, b->i_thread);
    BY(a->part, b->part);
    BY(a->i_file, b->i_file);
    BY(a->loses_samples, b->loses_samples);
    BY(a->has_time, b->has_time);
    if (a->has_time) {
        BY(a->first, b->first);
        BY(b->n, a->n);
    }
    BY(a->offset_bytes, b->offset_bytes);
    BY(b->n_bytes, a->n_bytes);
    return 0;
}

static int64_t end_of(const wfi_fault *f)
{
    return f->has_time ? f->first + f->n : f->offset_bytes + f->n_bytes;
}

static int64_t begin_of(const wfi_fault *f)
{
    return f->has_time ? f->first : f->offset_bytes;
}

static bool same_sort(const wfi_fault *a, const wfi_fault *b)
{
    return a->kind == b->kind && a->i_thread == b->i_thread && a->part == b->part &&
           a->i_file == b->i_file && a->loses_samples == b->loses_samples &&
           a->has_time == b->has_time;
}

/* Make `into` the union of itself and what begins not before it and overlaps or touches it. Frames
 * are of even length, so that the part that is new holds its share of them. */
static void unite(wfi_fault *into, const wfi_fault *next)
{
    const int64_t fresh = end_of(next) - end_of(into);
    const int64_t whole = end_of(next) - begin_of(next);
    if (fresh <= 0 || whole <= 0)
        return;
    const int64_t overlap = whole - fresh;
    into->n_frames += next->n_frames - next->n_frames * overlap / whole;
    if (!next->has_time) {
        into->n_bytes += fresh;
        return;
    }
    into->n_bytes +=
        next->n_bytes - (int64_t)((double)next->n_bytes * (double)overlap / (double)whole);
    into->n += fresh;
}

static void put_in_order(wfi_fault_log *log)
{
    wfi_fault *e = log->list.entries;
    const size_t n = log->list.n;
    if (n == log->n_sorted)
        return;
    qsort(e, n, sizeof *e, compare);
    size_t kept = 0;
    for (size_t i = 1; i < n; i++) {
        const bool touches = begin_of(&e[i]) <= end_of(&e[kept]);
        if (same_sort(&e[kept], &e[i]) && touches)
            unite(&e[kept], &e[i]);
        else
            e[++kept] = e[i];
    }
    log->list.n = log->n_sorted = kept + 1;
}

static wf_status take(wfi_fault_log *log, const wfi_fault_list *list, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&log->list.entries, &log->list.capacity, log->list.n + list->n,
                              sizeof *list->entries, "the faults of a recording", err));
    memcpy(log->list.entries + log->list.n, list->entries, list->n * sizeof *list->entries);
    log->list.n += list->n;
    if (log->list.n - log->n_sorted > SORT_FROM + log->n_sorted)
        put_in_order(log);
    return WF_OK;
}

wf_status wfi_fault_log_take(wfi_fault_log *log, wfi_fault_list *list, wf_error *err)
{
    if (list->n == 0)
        return WF_OK;
    pthread_mutex_lock(&log->lock);
    const wf_status status = take(log, list, err);
    pthread_mutex_unlock(&log->lock);
    list->n = 0;
    return status;
}

static wf_fault_place place_of(const wfi_fault *f, const wfi_fault_scale *scale, bool last)
{
    const int64_t sample = last && f->n > 0 ? f->first + f->n - 1 : f->first;
    wf_fault_place place = {
        .i_file = f->i_file,
        .offset_bytes = f->offset_bytes,
        .frame = scale->frame_bytes > 0 ? f->offset_bytes / scale->frame_bytes : -1,
        .thread = f->i_thread >= 0 ? (int32_t)scale->threads[f->i_thread].thread : -1,
        .has_time = f->has_time,
    };
    if (f->has_time)
        place.t = wf_instant_add_samples(scale->origin, sample, scale->sample_rate_hz);
    return place;
}

static bool stands_before(const wfi_fault *f, const wf_fault_place *place)
{
    return f->i_file != place->i_file ? f->i_file < place->i_file
                                      : f->offset_bytes < place->offset_bytes;
}

static void count(const wfi_fault *f, const wfi_fault_scale *scale, wf_fault *out)
{
    if (out->n_places == 0 || stands_before(f, &out->first))
        out->first = place_of(f, scale, false);
    if (out->n_places == 0 || !stands_before(f, &out->last))
        out->last = place_of(f, scale, true);
    out->n_places++;
    out->n_frames += f->n_frames;
    out->n_bytes += f->n_bytes;
    out->lost_samples += f->loses_samples ? f->n : 0;
}

wf_status wfi_fault_log_count(wfi_fault_log *log, const wfi_fault_scale *scale,
                              wf_fault faults[WF_FAULT_N_KINDS], wf_error *err)
{
    (void)err;
    memset(faults, 0, WF_FAULT_N_KINDS * sizeof *faults);
    pthread_mutex_lock(&log->lock);
    put_in_order(log);
    for (size_t i = 0; i < log->list.n; i++)
        count(&log->list.entries[i], scale, &faults[log->list.entries[i].kind]);
    pthread_mutex_unlock(&log->lock);
    return WF_OK;
}

/* At a sample the number of stretches of a kind that lose it changes. */
typedef struct change {
    int64_t sample;
    wf_fault_kind kind;
    int by;
} change;

static int compare_changes(const void *p, const void *q)
{
    const change *a = p;
    const change *b = q;
    BY(a->sample, b->sample);
    return 0;
}

static size_t list_changes(const wfi_fault_log *log, int32_t i_thread, uint32_t part, int64_t first,
                           int64_t end, change *out)
{
    size_t n = 0;
    for (size_t i = 0; i < log->list.n; i++) {
        const wfi_fault *f = &log->list.entries[i];
        const int64_t from = f->first > first ? f->first : first;
        const int64_t to = f->first + f->n < end ? f->first + f->n : end;
        if (f->i_thread != i_thread || (f->part != 0 && f->part != part) || !f->loses_samples ||
            from >= to)
            continue;
        if (out != NULL) {
            out[n] = (change){from, f->kind, +1};
            out[n + 1] = (change){to, f->kind, -1};
        }
        n += 2;
    }
    return n;
}

static void sum_changes(const change *changes, size_t n, int64_t lost[WF_FAULT_N_KINDS])
{
    int active[WF_FAULT_N_KINDS] = {0};
    for (size_t i = 0; i + 1 < n; i++) {
        active[changes[i].kind] += changes[i].by;
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++) {
            if (active[k] > 0) {
                lost[k] += changes[i + 1].sample - changes[i].sample;
                break;
            }
        }
    }
}

wf_status wfi_fault_log_losses(wfi_fault_log *log, int32_t i_thread, uint32_t part, int64_t first,
                               int64_t n, int64_t lost[WF_FAULT_N_KINDS], wf_error *err)
{
    change *changes = NULL;
    memset(lost, 0, WF_FAULT_N_KINDS * sizeof *lost);
    pthread_mutex_lock(&log->lock);
    put_in_order(log);
    const size_t n_changes = list_changes(log, i_thread, part, first, first + n, NULL);
    const wf_status status =
        wfi_allocate(&changes, n_changes, sizeof *changes, "the losses of a recording", err);
    if (status == WF_OK)
        list_changes(log, i_thread, part, first, first + n, changes);
    pthread_mutex_unlock(&log->lock);
    if (status == WF_OK) {
        qsort(changes, n_changes, sizeof *changes, compare_changes);
        sum_changes(changes, n_changes, lost);
    }
    wfi_free(changes);
    return status;
}
