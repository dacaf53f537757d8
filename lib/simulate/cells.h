/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sky frequencies that are recorded anywhere, cut where any recorded band begins or ends.
 *
 *  The sky makes its noise cell by cell; each stream hears whole cells only. So streams of any
 *  bandwidth and split are coherent where they overlap, and nothing has to be filtered.
 */
#ifndef WFI_SIMULATE_CELLS_H
#define WFI_SIMULATE_CELLS_H

#include <stddef.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

typedef struct wfi_range {
    double low_hz;
    double high_hz;
} wfi_range;

typedef struct wfi_cells {
    wfi_range *list; /* [n] ascending, disjoint */
    size_t n;
} wfi_cells;

/** Edges nearer than this are one edge. */
#define WFI_CELL_LEAST_HZ 1.0

/** given   ranges  [n_ranges] each wider than WFI_CELL_LEAST_HZ
 *  status  OK | MEMORY
 */
wf_status wfi_cells_create(wfi_cells *out, const wfi_range *ranges, size_t n_ranges, wf_error *err);
void wfi_cells_release(wfi_cells *cells);

/** The cells [*first, *end) that make up a range. */
void wfi_cells_of(const wfi_cells *cells, const wfi_range *range, size_t *first, size_t *end);

/** Sky frequencies that a stream records. */
wfi_range wfi_stream_range(const wf_stream *stream, int64_t sample_rate_hz, wf_sampling sampling);

/** Sky frequency at a stream's zero baseband frequency. */
double wfi_stream_zero_hz(const wf_stream *stream, int64_t sample_rate_hz, wf_sampling sampling);

#endif
