/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When a recorder runs, and what its station looks at. */
#ifndef WFI_SIMULATE_SCHEDULE_H
#define WFI_SIMULATE_SCHEDULE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#include "simulate/directions.h"
#include "simulate/style.h"

/** A stretch of recording, in samples since 2000-01-01T00:00:00 UTC by the station's clock. */
typedef struct wfi_passage {
    int64_t first;
    int64_t end;
    bool on_sky; /* else the station hears its own noise only */
    size_t i_scan;
} wfi_passage;

typedef struct wfi_schedule {
    wfi_passage *list; /* [n] in time order */
    size_t n;
    int64_t n_samples; /* of all */
} wfi_schedule;

/** The passages of a recording: each scan of its station with 50 ms before and after it.
 *
 *  VDIF passages begin and end with a frame, with nothing between them. A sound file runs without
 *  a break from the whole second before its first scan to that after its last.
 *
 *  status  OK | MISSING: the station takes part in no scan | UNSUPPORTED: two scans of different
 *          sources too close for that; a delay of 0.9 s or more | as wf_track_create
 */
wf_status wfi_schedule_create(wfi_schedule *out, const wf_observation *observation,
                              const wfi_directions *directions, size_t i_recording,
                              const wfi_style *style, wf_error *err);
void wfi_schedule_release(wfi_schedule *schedule);

#endif
