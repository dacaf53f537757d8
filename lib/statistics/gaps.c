/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gaps of a recording, from windows that follow one another or stand here and there. */
#include "statistics/gaps.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

wf_status wfi_gaps_create(wfi_gaps *out, const wf_recording *recording, wf_error *err)
{
    const size_t n = wf_recording_describe(recording)->n_threads;
    *out = (wfi_gaps){.recording = recording};
    WFI_TRY(wf_window_create(&out->probe, recording, 1, err));
    WFI_TRY(wfi_allocate(&out->open, n, sizeof *out->open, "gaps", err));
    WFI_TRY(wfi_allocate(&out->seen_to, n, sizeof *out->seen_to, "gaps", err));
    for (size_t i = 0; i < n; i++)
        out->seen_to[i] = INT64_MIN;
    return WF_OK;
}

void wfi_gaps_release(wfi_gaps *gaps)
{
    wf_window_destroy(gaps->probe);
    wfi_free(gaps->list);
    wfi_free(gaps->open);
    wfi_free(gaps->seen_to);
    *gaps = (wfi_gaps){0};
}

static wf_status is_valid_at(wfi_gaps *g, size_t i_thread, int64_t sample, bool *valid,
                             wf_error *err)
{
    WFI_TRY(wf_window_load(g->probe, sample, 1, err));
    const wf_packed *packed = wf_window_thread(g->probe, i_thread);
    *valid = true;
    for (size_t i = 0; i < packed->n_invalid; i++) {
        const wf_sample_range run = packed->invalid[i];
        if (sample >= run.first && sample < run.first + run.n)
            *valid = false;
    }
    return WF_OK;
}

/* First sample in (low, high] whose validity is that of high, low's being the other. */
static wf_status find_change(wfi_gaps *g, size_t i_thread, int64_t low, int64_t high,
                             int64_t *change, wf_error *err)
{
    bool high_valid = false;
    WFI_TRY(is_valid_at(g, i_thread, high, &high_valid, err));
    while (high - low > 1) {
        const int64_t middle = low + (high - low) / 2;
        bool valid = false;
        WFI_TRY(is_valid_at(g, i_thread, middle, &valid, err));
        if (valid == high_valid)
            high = middle;
        else
            low = middle;
    }
    *change = high;
    return WF_OK;
}

static wf_status close_gap(wfi_gaps *g, size_t i_thread, int64_t end, wf_error *err)
{
    wf_gap *open = &g->open[i_thread];
    open->n = end - open->first;
    g->n_seen++;
    if (g->n < WF_GAPS_MAX) {
        WFI_TRY(wfi_array_reserve(&g->list, &g->capacity, g->n + 1, sizeof *g->list, "gaps", err));
        g->list[g->n++] = *open;
    }
    open->n = 0;
    return WF_OK;
}

static void open_gap(wfi_gaps *g, size_t i_thread, int64_t first)
{
    g->open[i_thread] = (wf_gap){.i_thread = i_thread, .first = first, .n = 1};
}

/* What lies between the last window and this one, which begins at `first`. */
static wf_status bridge(wfi_gaps *g, size_t i_thread, int64_t first, bool begins_invalid,
                        wf_error *err)
{
    const int64_t last = g->seen_to[i_thread];
    const bool open = g->open[i_thread].n > 0;
    int64_t change = first;
    if (open == begins_invalid)
        return WF_OK;
    if (last != INT64_MIN && last < first)
        WFI_TRY(find_change(g, i_thread, last - 1, first, &change, err));
    if (open)
        return close_gap(g, i_thread, change, err);
    open_gap(g, i_thread, change);
    return WF_OK;
}

wf_status wfi_gaps_add(wfi_gaps *gaps, size_t i_thread, const wf_packed *packed, int64_t first,
                       int64_t n, wf_error *err)
{
    const int64_t end = first + n;
    bool bridged = false;
    for (size_t i = 0; i < packed->n_invalid; i++) {
        const int64_t from = packed->invalid[i].first > first ? packed->invalid[i].first : first;
        const int64_t run_end = packed->invalid[i].first + packed->invalid[i].n;
        const int64_t to = run_end < end ? run_end : end;
        if (from >= to)
            continue;
        if (!bridged)
            WFI_TRY(bridge(gaps, i_thread, first, from == first, err));
        bridged = true;
        if (gaps->open[i_thread].n == 0)
            open_gap(gaps, i_thread, from);
        if (to < end)
            WFI_TRY(close_gap(gaps, i_thread, to, err));
    }
    if (!bridged)
        WFI_TRY(bridge(gaps, i_thread, first, false, err));
    gaps->seen_to[i_thread] = end;
    return WF_OK;
}

static int by_time(const void *a, const void *b)
{
    const wf_gap *x = a;
    const wf_gap *y = b;
    if (x->first != y->first)
        return x->first < y->first ? -1 : 1;
    return (x->i_thread > y->i_thread) - (x->i_thread < y->i_thread);
}

wf_status wfi_gaps_finish(wfi_gaps *gaps, wf_error *err)
{
    const size_t n_threads = wf_recording_describe(gaps->recording)->n_threads;
    for (size_t i = 0; i < n_threads; i++) {
        if (gaps->open[i].n > 0)
            WFI_TRY(close_gap(gaps, i, gaps->seen_to[i], err));
    }
    if (gaps->n > 0)
        qsort(gaps->list, gaps->n, sizeof *gaps->list, by_time);
    return WF_OK;
}
