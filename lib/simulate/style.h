/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a recording is written: format, bits, threads and channels, frames. */
#ifndef WFI_SIMULATE_STYLE_H
#define WFI_SIMULATE_STYLE_H

#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#include "observation/place.h"
#include "simulate/sky_schema.h"

typedef struct wfi_style {
    bool is_sound;
    bool is_complex;
    unsigned bits;
    uint32_t *threads; /* [n_threads] ascending; of sound files one, 0 */
    size_t n_threads;
    uint32_t n_channels; /* of every thread; of sound files, channels or I/Q pairs */
    bool legacy_header;  /* VDIF from here on */
    uint32_t payload_bytes;
    int64_t samples_per_frame;
} wfi_style;

/** given   entry  the same recording as the job will have it
 *  status  OK | FORMAT: the message names line and key | MEMORY
 */
wf_status wfi_style_read(wfi_style *out, const wfi_place *place, const wfi_raw_sky_recording *raw,
                         const wf_recording_entry *entry);
void wfi_style_release(wfi_style *style);

#endif
