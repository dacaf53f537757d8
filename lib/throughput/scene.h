/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An observation of nothing: invented stations on a ring of the Earth, their samples in memory,
 * their delays and rates real. What it costs is what a job of this set-up costs without its files.
 */
#ifndef WFI_THROUGHPUT_SCENE_H
#define WFI_THROUGHPUT_SCENE_H

#include <whitefringe/observation.h>

#include "run/session.h"

typedef struct wfi_scene_setup {
    size_t n_stations;
    size_t n_polarizations; /* 1 or 2 */
    size_t n_bands;         /* recorded bands of each station, side by side */
    size_t n_channels;      /* of a band */
    size_t n_products;      /* 1, 2 (parallel hands) or 4 */
    int64_t sample_rate_hz;
    unsigned bits;
    bool is_complex;
    double edge_hz; /* of the first band */
    wf_rotation rotation;
    const char *kernels; /* NULL: the fastest here */
    int64_t n_segments;  /* of the one integration */
    size_t memory_bytes; /* for packed samples, about */
} wfi_scene_setup;

typedef struct wfi_scene {
    wf_observation *observation;
    wfi_session session;
    wf_slice slice; /* the whole scan: one integration */
} wfi_scene;

/** status  OK | as wf_plan_create and wf_delay_model_create | MEMORY */
wf_status wfi_scene_open(wfi_scene *scene, const wfi_scene_setup *setup, wf_error *err);

/** Accepts {0}. */
void wfi_scene_close(wfi_scene *scene);

size_t wfi_scene_n_streams(const wfi_scene_setup *setup);

/** Samples of all streams that the slice takes. */
double wfi_scene_samples(const wfi_scene_setup *setup);

/** Samples of a stream to a segment. */
size_t wfi_scene_n_fft(const wfi_scene_setup *setup);

/** Multiply-additions of complex numbers to a segment, autocorrelations included. */
double wfi_scene_products(const wfi_scene_setup *setup);

#endif
