/* SPDX-License-Identifier: GPL-3.0-or-later */
/* By a tree of prefix maxima over the ends of runs. */
#include "recording/vdif_chain.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

static const size_t NONE = SIZE_MAX;

static int compare_numbers(const void *a, const void *b)
{
    const int64_t *x = a;
    const int64_t *y = b;
    return (*x > *y) - (*x < *y);
}

typedef struct heaviest {
    const wfi_run *runs;
    size_t n;
    int64_t *ends;  /* [n] sorted */
    size_t *tree;   /* [n + 1] index of the run with the largest weight; NONE */
    size_t *before; /* [n] the run before it in its best sequence; NONE */
    int64_t *weight;
} heaviest;

static size_t count_not_above(const int64_t *values, size_t n, int64_t limit)
{
    size_t low = 0;
    size_t high = n;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (values[middle] <= limit)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static size_t best_of_prefix(const heaviest *h, size_t n)
{
    size_t best = NONE;
    for (; n > 0; n -= n & (~n + 1))
        if (h->tree[n] != NONE && (best == NONE || h->weight[h->tree[n]] > h->weight[best]))
            best = h->tree[n];
    return best;
}

static void enter(heaviest *h, size_t rank, size_t i)
{
    for (; rank <= h->n; rank += rank & (~rank + 1))
        if (h->tree[rank] == NONE || h->weight[i] > h->weight[h->tree[rank]])
            h->tree[rank] = i;
}

static void find_heaviest(heaviest *h, bool *in_chain)
{
    for (size_t i = 0; i < h->n; i++)
        h->ends[i] = wfi_run_end(&h->runs[i]);
    qsort(h->ends, h->n, sizeof *h->ends, compare_numbers);
    for (size_t i = 0; i <= h->n; i++)
        h->tree[i] = NONE;
    for (size_t i = 0; i < h->n; i++) {
        const wfi_run *run = &h->runs[i];
        h->before[i] = best_of_prefix(h, count_not_above(h->ends, h->n, run->k));
        h->weight[i] = run->n + (h->before[i] != NONE ? h->weight[h->before[i]] : 0);
        enter(h, count_not_above(h->ends, h->n, wfi_run_end(run)), i);
    }
    for (size_t i = best_of_prefix(h, h->n); i != NONE; i = h->before[i])
        in_chain[i] = true;
}

static bool is_ascending(const wfi_run_list *list)
{
    for (size_t i = 1; i < list->n; i++)
        if (list->runs[i].k < wfi_run_end(&list->runs[i - 1]))
            return false;
    return true;
}

wf_status wfi_vdif_mark_chain(const wfi_run_list *list, bool *in_chain, wf_error *err)
{
    heaviest h = {.runs = list->runs, .n = list->n};
    if (is_ascending(list)) {
        for (size_t i = 0; i < list->n; i++)
            in_chain[i] = true;
        return WF_OK;
    }
    wf_status status = wfi_allocate(&h.ends, h.n, sizeof *h.ends, "the order of frames", err);
    if (status == WF_OK)
        status = wfi_allocate(&h.tree, h.n + 1, sizeof *h.tree, "the order of frames", err);
    if (status == WF_OK)
        status = wfi_allocate(&h.before, h.n, sizeof *h.before, "the order of frames", err);
    if (status == WF_OK)
        status = wfi_allocate(&h.weight, h.n, sizeof *h.weight, "the order of frames", err);
    if (status == WF_OK)
        find_heaviest(&h, in_chain);
    wfi_free(h.ends);
    wfi_free(h.tree);
    wfi_free(h.before);
    wfi_free(h.weight);
    return status;
}
