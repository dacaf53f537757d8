/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edges of all ranges, sorted; a cell is what lies between two neighbours inside any range. */
#include "simulate/cells.h"

#include <stdbool.h>

#include "base/memory.h"
#include "base/order.h"

/* Sort the edges and keep one of those that are as good as equal. */
static size_t unite(double *edges, size_t n)
{
    wfi_sort_ascending(edges, n);
    size_t n_kept = 0;
    for (size_t i = 0; i < n; i++)
        if (n_kept == 0 || edges[i] - edges[n_kept - 1] >= WFI_CELL_LEAST_HZ)
            edges[n_kept++] = edges[i];
    return n_kept;
}

static bool holds(const wfi_range *range, double nu_hz)
{
    return range->low_hz < nu_hz && nu_hz < range->high_hz;
}

static bool recorded(const wfi_range *ranges, size_t n_ranges, double nu_hz)
{
    for (size_t i = 0; i < n_ranges; i++)
        if (holds(&ranges[i], nu_hz))
            return true;
    return false;
}

wf_status wfi_cells_create(wfi_cells *out, const wfi_range *ranges, size_t n_ranges, wf_error *err)
{
    *out = (wfi_cells){0};
    double *edges = NULL;
    wf_status status =
        wfi_allocate(&edges, 2 * n_ranges, sizeof *edges, "the edges of recorded bands", err);
    if (status == WF_OK)
        status = wfi_allocate(&out->list, 2 * n_ranges, sizeof *out->list,
                              "the cells of recorded bands", err);
    if (status == WF_OK) {
        for (size_t i = 0; i < n_ranges; i++) {
            edges[2 * i] = ranges[i].low_hz;
            edges[2 * i + 1] = ranges[i].high_hz;
        }
        const size_t n_edges = unite(edges, 2 * n_ranges);
        for (size_t i = 0; i + 1 < n_edges; i++)
            if (recorded(ranges, n_ranges, 0.5 * (edges[i] + edges[i + 1])))
                out->list[out->n++] = (wfi_range){edges[i], edges[i + 1]};
    }
    wfi_free(edges);
    return status;
}

void wfi_cells_release(wfi_cells *cells)
{
    wfi_free(cells->list);
    *cells = (wfi_cells){0};
}

void wfi_cells_of(const wfi_cells *cells, const wfi_range *range, size_t *first, size_t *end)
{
    *first = *end = 0;
    for (size_t i = 0; i < cells->n; i++) {
        if (!holds(range, 0.5 * (cells->list[i].low_hz + cells->list[i].high_hz)))
            continue;
        if (*end == *first)
            *first = i;
        *end = i + 1;
    }
}

static double bandwidth_hz(int64_t sample_rate_hz, wf_sampling sampling)
{
    return sampling == WF_SAMPLING_COMPLEX ? (double)sample_rate_hz : 0.5 * (double)sample_rate_hz;
}

wfi_range wfi_stream_range(const wf_stream *stream, int64_t sample_rate_hz, wf_sampling sampling)
{
    const double width_hz = bandwidth_hz(sample_rate_hz, sampling);
    double low_hz = stream->anchor_hz;
    if (stream->anchor == WF_ANCHOR_CENTRE)
        low_hz -= 0.5 * width_hz;
    else if (stream->sideband == WF_SIDEBAND_LOWER)
        low_hz -= width_hz;
    return (wfi_range){low_hz, low_hz + width_hz};
}

double wfi_stream_zero_hz(const wf_stream *stream, int64_t sample_rate_hz, wf_sampling sampling)
{
    const wfi_range range = wfi_stream_range(stream, sample_rate_hz, sampling);
    if (sampling == WF_SAMPLING_COMPLEX)
        return 0.5 * (range.low_hz + range.high_hz);
    return stream->sideband == WF_SIDEBAND_LOWER ? range.high_hz : range.low_hz;
}
