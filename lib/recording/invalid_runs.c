/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/invalid_runs.h"

#include <stdlib.h>

#include "base/check.h"
#include "base/memory.h"
#include "base/status.h"

wf_status wfi_invalid_runs_append(wfi_invalid_runs *list, int64_t first, int64_t n, wf_error *err)
{
    if (n <= 0)
        return WF_OK;
    if (list->n > 0) {
        wf_sample_range *last = &list->runs[list->n - 1];
        WFI_CHECK(first >= last->first + last->n);
        if (last->first + last->n == first) {
            last->n += n;
            return WF_OK;
        }
    }
    WFI_TRY(wfi_array_reserve(&list->runs, &list->capacity, list->n + 1, sizeof *list->runs,
                              "the stretches without valid samples", err));
    list->runs[list->n++] = (wf_sample_range){first, n};
    return WF_OK;
}

void wfi_invalid_runs_release(wfi_invalid_runs *list)
{
    wfi_free(list->runs);
    *list = (wfi_invalid_runs){0};
}

size_t wfi_invalid_run_after(const wf_packed *packed, int64_t sample)
{
    size_t low = 0;
    size_t high = packed->n_invalid;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (packed->invalid[middle].first + packed->invalid[middle].n > sample)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

static int by_first(const void *p, const void *q)
{
    const wf_sample_range *a = p;
    const wf_sample_range *b = q;
    return (a->first > b->first) - (a->first < b->first);
}

void wfi_sort_ranges(wf_sample_range *ranges, size_t n)
{
    if (n > 1)
        qsort(ranges, n, sizeof *ranges, by_first);
}
