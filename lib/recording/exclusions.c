/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/exclusions.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/invalid_runs.h"
#include "recording/recording_state.h"

/* The sample that is taken at an instant, or the next one. */
static int64_t sample_at(const wf_recording_info *info, wf_instant t)
{
    const double rate_hz = (double)info->sample_rate_hz;
    const int64_t seconds = t.second - info->origin.second;
    const double fraction = t.fraction - info->origin.fraction;
    if (seconds > WFI_FARTHEST_SAMPLE / info->sample_rate_hz)
        return WFI_FARTHEST_SAMPLE;
    if (seconds < -(WFI_FARTHEST_SAMPLE / info->sample_rate_hz))
        return -WFI_FARTHEST_SAMPLE;
    /* half a thousandth of a sample: times of the job are rounded */
    return seconds * info->sample_rate_hz + (int64_t)ceil(fraction * rate_hz - 5e-4);
}

static size_t join_ranges(wf_sample_range *ranges, size_t n)
{
    size_t last = 0;
    wfi_sort_ranges(ranges, n);
    for (size_t i = 1; i < n; i++) {
        const int64_t end = ranges[last].first + ranges[last].n;
        if (ranges[i].first > end) {
            ranges[++last] = ranges[i];
            continue;
        }
        if (ranges[i].first + ranges[i].n > end)
            ranges[last].n = ranges[i].first + ranges[i].n - ranges[last].first;
    }
    return last + 1;
}

static wf_status list_ranges(const wf_stream *stream, const wf_recording_info *info,
                             wfi_exclusion *out, wf_error *err)
{
    *out = (wfi_exclusion){0};
    WFI_TRY(wfi_allocate(&out->ranges, stream->n_excluded, sizeof *out->ranges, "exclusions", err));
    for (size_t i = 0; i < stream->n_excluded; i++) {
        int64_t first = sample_at(info, stream->excluded[i].start);
        int64_t end = sample_at(info, stream->excluded[i].stop);
        first = first > info->first ? first : info->first;
        end = end < info->end ? end : info->end;
        if (first < end)
            out->ranges[out->n_ranges++] = (wf_sample_range){first, end - first};
    }
    if (out->n_ranges > 0)
        out->n_ranges = join_ranges(out->ranges, out->n_ranges);
    return WF_OK;
}

static bool same(const wfi_exclusion *a, const wfi_exclusion *b)
{
    return a->n_ranges == b->n_ranges &&
           memcmp(a->ranges, b->ranges, a->n_ranges * sizeof *a->ranges) == 0;
}

/* Streams of which the same is excluded share it. */
static wf_status add_stream(wfi_exclusions *out, size_t k, const wf_stream *stream,
                            const wf_recording_info *info, wf_error *err)
{
    wfi_exclusion *fresh = &out->list[out->n_list];
    out->of_stream[k] = WF_NO_EXCLUSION;
    if (stream->n_excluded == 0)
        return WF_OK;
    const wf_status status = list_ranges(stream, info, fresh, err);
    size_t i = 0;
    while (i < out->n_list && !same(&out->list[i], fresh))
        i++;
    if (status == WF_OK && fresh->n_ranges > 0)
        out->of_stream[k] = i;
    if (out->of_stream[k] == out->n_list)
        out->n_list++;
    else
        wfi_free(fresh->ranges);
    return status;
}

static bool was_told(const wfi_exclusions *exclusions, const wf_recording_entry *entry, size_t k)
{
    for (size_t j = 0; j < k; j++)
        if (exclusions->of_stream[j] == exclusions->of_stream[k] &&
            entry->streams[j].thread == entry->streams[k].thread)
            return true;
    return false;
}

static wf_status list_faults(const wfi_exclusions *exclusions, const wf_recording_entry *entry,
                             const wf_recording_info *info, wfi_fault_list *list, wf_error *err)
{
    for (size_t k = 0; k < exclusions->n_streams; k++) {
        const size_t e = exclusions->of_stream[k];
        size_t t = 0;
        while (t < info->n_threads && info->threads[t].thread != entry->streams[k].thread)
            t++;
        if (e == WF_NO_EXCLUSION || t == info->n_threads || was_told(exclusions, entry, k))
            continue;
        for (size_t i = 0; i < exclusions->list[e].n_ranges; i++)
            WFI_TRY(wfi_fault_list_append(list,
                                          (wfi_fault){.kind = WF_FAULT_EXCLUDED,
                                                      .i_thread = (int32_t)t,
                                                      .part = wfi_exclusion_part(e),
                                                      .loses_samples = true,
                                                      .has_time = true,
                                                      .first = exclusions->list[e].ranges[i].first,
                                                      .n = exclusions->list[e].ranges[i].n},
                                          err));
    }
    return WF_OK;
}

wf_status wfi_exclusions_create(wfi_exclusions *out, const wf_recording_entry *entry,
                                const wf_recording_info *info, wfi_fault_log *log, wf_error *err)
{
    *out = (wfi_exclusions){0};
    bool any = false;
    for (size_t k = 0; k < entry->n_streams; k++)
        any = any || entry->streams[k].n_excluded > 0;
    if (!any)
        return WF_OK;
    const size_t n = entry->n_streams;
    WFI_TRY(wfi_allocate(&out->of_stream, n, sizeof *out->of_stream, "exclusions", err));
    WFI_TRY(wfi_allocate(&out->list, n, sizeof *out->list, "exclusions", err));
    for (; out->n_streams < n; out->n_streams++)
        WFI_TRY(add_stream(out, out->n_streams, &entry->streams[out->n_streams], info, err));
    wfi_fault_list list = {0};
    wf_status status = list_faults(out, entry, info, &list, err);
    if (status == WF_OK)
        status = wfi_fault_log_take(log, &list, err);
    wfi_fault_list_release(&list);
    return status;
}

void wfi_exclusions_release(wfi_exclusions *exclusions)
{
    for (size_t i = 0; i < exclusions->n_list; i++)
        wfi_free(exclusions->list[i].ranges);
    wfi_free(exclusions->list);
    wfi_free(exclusions->of_stream);
    *exclusions = (wfi_exclusions){0};
}
