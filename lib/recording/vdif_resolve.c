/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_resolve.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_chain.h"

/* At either end of a file, a few frames farther than this from the next are damaged. */
static const int64_t END_SPREAD_S = 3600;
enum { FEW_FRAMES = 4 };

static const size_t NONE = SIZE_MAX;

static int64_t last_offset(const wfi_run *run)
{
    return run->offset + (run->n - 1) * run->stride;
}

void wfi_resolved_release(wfi_resolved *resolved)
{
    wfi_run_list_release(&resolved->chain);
    wfi_run_list_release(&resolved->moved);
}

static int compare_runs(const void *p, const void *q)
{
    const wfi_run *a = p;
    const wfi_run *b = q;
    if (a->k != b->k)
        return a->k < b->k ? -1 : 1;
    if (a->i_file != b->i_file)
        return a->i_file < b->i_file ? -1 : 1;
    return (a->offset > b->offset) - (a->offset < b->offset);
}

void wfi_runs_sort(wfi_run_list *list)
{
    if (list->n > 1)
        qsort(list->runs, list->n, sizeof *list->runs, compare_runs);
}

/* ----- frames off the chain */

/* Zone z lies between runs z - 1 and z of the chain; the first and the last have no bound. */
typedef struct zone {
    int64_t n_holes;    /* frames missing in the chain, and of nothing that stands there */
    int64_t last_told;  /* frame of the hole that stands there and is no valid one */
    int64_t n_claimed;  /* of them, by frames that stand off the chain */
    int64_t n_standing; /* frames that stand here and belong elsewhere */
    size_t parent;      /* zones that exchange frames are judged together */
    bool suspect;
} zone;

typedef struct zones {
    zone *zones; /* [n_runs + 1] */
    const wfi_run *runs;
    size_t n_runs;
} zones;

static size_t root(zones *z, size_t i)
{
    while (z->zones[i].parent != i) {
        z->zones[i].parent = z->zones[z->zones[i].parent].parent;
        i = z->zones[i].parent;
    }
    return i;
}

static void unite(zones *z, size_t a, size_t b)
{
    const size_t ra = root(z, a);
    const size_t rb = root(z, b);
    z->zones[ra > rb ? ra : rb].parent = ra > rb ? rb : ra;
}

static wf_status create_zones(zones *z, const wfi_run_list *chain, wf_error *err)
{
    *z = (zones){.runs = chain->runs, .n_runs = chain->n};
    WFI_TRY(wfi_allocate(&z->zones, chain->n + 1, sizeof *z->zones, "the order of frames", err));
    for (size_t i = 0; i <= chain->n; i++) {
        z->zones[i].parent = i;
        z->zones[i].last_told = INT64_MIN;
        if (i > 0 && i < chain->n)
            z->zones[i].n_holes = chain->runs[i].k - wfi_run_end(&chain->runs[i - 1]);
    }
    return WF_OK;
}

/* The zone in which a run stands; NONE: among the frames of a run of the chain, in the place of
 * another thread's. */
static size_t standing_zone(const zones *z, int64_t offset)
{
    size_t low = 0;
    size_t high = z->n_runs;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (z->runs[middle].offset < offset)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 && offset < last_offset(&z->runs[low - 1]) ? NONE : low;
}

/* The first zone that has, or borders on, a frame from k on. */
static size_t zone_of_time(const zones *z, int64_t k)
{
    size_t low = 0;
    size_t high = z->n_runs;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (wfi_run_end(&z->runs[middle]) <= k)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static int64_t claimed_in(const zones *z, size_t i, const wfi_run *run)
{
    const int64_t begin = i > 0 ? wfi_run_end(&z->runs[i - 1]) : INT64_MIN;
    const int64_t end = i < z->n_runs ? z->runs[i].k : INT64_MAX;
    const int64_t from = run->k > begin ? run->k : begin;
    const int64_t to = wfi_run_end(run) < end ? wfi_run_end(run) : end;
    return to > from ? to - from : 0;
}

static void enter_run(zones *z, const wfi_run *run)
{
    const size_t here = standing_zone(z, run->offset);
    bool local = false;
    for (size_t i = zone_of_time(z, run->k); i <= z->n_runs; i++) {
        const int64_t n = claimed_in(z, i, run);
        if (n == 0 && (i == z->n_runs || z->runs[i].k >= wfi_run_end(run)))
            break;
        if (n == 0)
            continue;
        z->zones[i].n_claimed += n;
        local = local || (i == here && n == run->n);
        if (here != NONE)
            unite(z, here, i);
    }
    if (here != NONE && !local)
        z->zones[here].n_standing += run->n;
}

/* A frame that is not valid and says which it is leaves no place for one whose time is wrong. */
static void enter_standers(zones *z, const wfi_findings *findings, size_t i_thread)
{
    for (size_t i = 0; i < findings->n_standers; i++) {
        const wfi_stander *s = &findings->standers[i];
        if (!s->has_k || s->i_thread != (int32_t)i_thread)
            continue;
        const size_t here = standing_zone(z, s->offset);
        if (here == NONE || here == 0 || here == z->n_runs ||
            s->k < wfi_run_end(&z->runs[here - 1]) || s->k >= z->runs[here].k ||
            s->k <= z->zones[here].last_told)
            continue;
        z->zones[here].last_told = s->k;
        z->zones[here].n_holes--;
    }
}

static void mark_suspects(zones *z)
{
    for (size_t i = 1; i < z->n_runs; i++)
        if (z->zones[i].n_standing > 0 && z->zones[i].n_holes > z->zones[i].n_claimed)
            z->zones[root(z, i)].suspect = true;
}

static bool is_believed(zones *z, const wfi_run *run)
{
    const size_t here = standing_zone(z, run->offset);
    return here != NONE && !z->zones[root(z, here)].suspect;
}

static wf_status add_wrong_time(wfi_findings *f, size_t i_thread, const wfi_run *run,
                                int64_t length, wf_error *err)
{
    for (int64_t i = 0; i < run->n; i++) {
        const wfi_stander stander = {.kind = WF_FAULT_WRONG_TIME,
                                     .i_thread = (int32_t)i_thread,
                                     .offset = run->offset + i * run->stride,
                                     .n_bytes = length,
                                     .n_frames = 1};
        WFI_TRY(wfi_findings_add_stander(f, stander, err));
    }
    return WF_OK;
}

static wf_status judge_moved(const wfi_vdif_stream *stream, size_t i_thread, wfi_findings *findings,
                             wfi_run_list *off_chain, wfi_resolved *out, wf_error *err)
{
    zones z;
    WFI_TRY(create_zones(&z, &out->chain, err));
    for (size_t i = 0; i < off_chain->n; i++)
        enter_run(&z, &off_chain->runs[i]);
    enter_standers(&z, findings, i_thread);
    mark_suspects(&z);
    const int64_t length = stream->threads[i_thread].pattern.frame_bytes;
    wf_status status = WF_OK;
    for (size_t i = 0; i < off_chain->n && status == WF_OK; i++) {
        const wfi_run *run = &off_chain->runs[i];
        status = is_believed(&z, run) ? wfi_run_list_append(&out->moved, *run, err)
                                      : add_wrong_time(findings, i_thread, run, length, err);
    }
    wfi_free(z.zones);
    wfi_runs_sort(&out->moved);
    return status;
}

/* A few frames at an end of the chain, far from the next, have a damaged time: nothing else would
 * show it there. */
static wf_status drop_strangers(const wfi_vdif_stream *stream, size_t i_thread,
                                wfi_findings *findings, wfi_run_list *chain, wf_error *err)
{
    const wfi_vdif_thread *thread = &stream->threads[i_thread];
    const int64_t spread = END_SPREAD_S * thread->frames_per_second;
    const int64_t length = thread->pattern.frame_bytes;
    size_t begin = 0;
    while (begin + 1 < chain->n && chain->runs[begin].n <= FEW_FRAMES &&
           chain->runs[begin + 1].n > chain->runs[begin].n &&
           chain->runs[begin + 1].k - wfi_run_end(&chain->runs[begin]) > spread)
        WFI_TRY(add_wrong_time(findings, i_thread, &chain->runs[begin++], length, err));
    while (begin + 1 < chain->n && chain->runs[chain->n - 1].n <= FEW_FRAMES &&
           chain->runs[chain->n - 2].n > chain->runs[chain->n - 1].n &&
           chain->runs[chain->n - 1].k - wfi_run_end(&chain->runs[chain->n - 2]) > spread)
        WFI_TRY(add_wrong_time(findings, i_thread, &chain->runs[--chain->n], length, err));
    for (size_t i = 0; begin > 0 && i + begin < chain->n; i++)
        chain->runs[i] = chain->runs[i + begin];
    chain->n -= begin;
    return WF_OK;
}

wf_status wfi_vdif_resolve(const wfi_vdif_stream *stream, size_t i_thread, wfi_findings *findings,
                           wfi_resolved *out, wf_error *err)
{
    const wfi_run_list *list = &findings->threads[i_thread];
    wfi_run_list off_chain = {0};
    bool *in_chain = NULL;
    *out = (wfi_resolved){0};
    wf_status status =
        wfi_allocate(&in_chain, list->n, sizeof *in_chain, "the order of frames", err);
    if (status == WF_OK)
        status = wfi_vdif_mark_chain(list, in_chain, err);
    for (size_t i = 0; i < list->n && status == WF_OK; i++)
        status = wfi_run_list_append(in_chain[i] ? &out->chain : &off_chain, list->runs[i], err);
    if (status == WF_OK)
        status = drop_strangers(stream, i_thread, findings, &out->chain, err);
    if (status == WF_OK && off_chain.n > 0)
        status = judge_moved(stream, i_thread, findings, &off_chain, out, err);
    wfi_free(in_chain);
    wfi_run_list_release(&off_chain);
    return status;
}

/* ----- merging */

typedef struct merger {
    const wfi_run_list *have;
    size_t i; /* of have: not in `out` yet */
    wfi_run_list *out;
    wfi_run_list *extra;
} merger;

static wf_status merge_run(merger *m, wfi_run run, wf_error *err)
{
    for (int64_t k = run.k; k < wfi_run_end(&run);) {
        while (m->i < m->have->n && wfi_run_end(&m->have->runs[m->i]) <= k)
            WFI_TRY(wfi_run_list_append(m->out, m->have->runs[m->i++], err));
        const wfi_run *next = m->i < m->have->n ? &m->have->runs[m->i] : NULL;
        const int64_t held_until =
            m->out->n > 0 ? wfi_run_end(&m->out->runs[m->out->n - 1]) : INT64_MIN;
        int64_t to = wfi_run_end(&run);
        const bool held_by_next = next != NULL && next->k <= k;
        const bool held = held_by_next || k < held_until;
        const int64_t limit = held_by_next     ? wfi_run_end(next)
                              : k < held_until ? held_until
                              : next != NULL   ? next->k
                                               : INT64_MAX;
        to = to < limit ? to : limit;
        WFI_TRY(wfi_run_list_append(held ? m->extra : m->out, wfi_run_part(run, k, to), err));
        k = to;
    }
    return WF_OK;
}

wf_status wfi_runs_merge(const wfi_run_list *have, const wfi_run_list *more, wfi_run_list *out,
                         wfi_run_list *extra, wf_error *err)
{
    merger m = {.have = have, .out = out, .extra = extra};
    for (size_t i = 0; i < more->n; i++)
        WFI_TRY(merge_run(&m, more->runs[i], err));
    while (m.i < have->n)
        WFI_TRY(wfi_run_list_append(out, have->runs[m.i++], err));
    return WF_OK;
}
