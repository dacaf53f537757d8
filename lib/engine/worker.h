/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one thread works with: windows on the recordings, scratch and sums. */
#ifndef WFI_ENGINE_WORKER_H
#define WFI_ENGINE_WORKER_H

#include "engine/plan.h"
#include "engine/sums.h"
#include "engine/validity.h"

/** One recording as a worker reads it. */
typedef struct wfi_source {
    wf_window *window; /* NULL: nothing is taken from it */
    bool active;       /* takes part in the slice */
    wfi_aligner aligner;
    wfi_alignment *alignments; /* [block_segments] */
} wfi_source;

struct wf_worker {
    const wf_plan *plan;
    wfi_source *sources;    /* [n_recordings] */
    wfi_validity *validity; /* [n_feeds] */
    wfi_spectra spectra;
    wfi_sums sums;
    bool *slot_active; /* [n_slots] takes part in the slice */
};

#endif
