/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything that the streams of one recording hear during one passage. */
#ifndef WFI_SIMULATE_HEARING_H
#define WFI_SIMULATE_HEARING_H

#include "simulate/sky.h"
#include "simulate/voltage.h"

/** Start from {0}; release it. */
typedef struct wfi_hearing {
    wfi_receiver *receivers;   /* [n_streams] */
    wfi_reception *receptions; /* [n_streams] */
    wfi_ray *rays;             /* [n_rays], by stream */
    wf_track **tracks;         /* [n_tracks] of the components */
    size_t n_streams;
    size_t n_tracks;
    size_t n_rays;
} wfi_hearing;

/** Point the streams of a recording to the sky, or away from it.
 *
 *  given   bench  outlives the hearing
 *  status  OK | UNSUPPORTED: more than WFI_RAYS_MAX rays | MEMORY | as wf_track_create
 */
wf_status wfi_hearing_create(wfi_hearing *out, wfi_noise_bench *bench, const wf_sky *sky,
                             size_t i_recording, const wfi_passage *passage, wf_error *err);
void wfi_hearing_release(wfi_hearing *hearing);

/** Most rays (streams x components x cells) of one recording: each takes half a megabyte. */
enum { WFI_RAYS_MAX = 4096 };

#endif
