/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part of one VDIF thread that a load asks for: whole frames, and which of them are there. */
#ifndef WFI_RECORDING_VDIF_WINDOW_H
#define WFI_RECORDING_VDIF_WINDOW_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "recording/invalid_runs.h"
#include "recording/vdif_convert.h"
#include "recording/vdif_fill.h"
#include "recording/vdif_stream.h"

typedef struct wfi_vdif_window {
    const wfi_vdif_thread *thread;
    const wfi_convert *convert;
    uint8_t *bytes;
    uint8_t *present;    /* [n_frames] */
    size_t frame_bytes;  /* of a frame's samples as handed out */
    bool direct;         /* they are the payload as it is */
    bool lands;          /* and so long that it is read straight to its place */
    int64_t first_frame; /* in frames of the thread since the origin */
    int64_t n_frames;
    wf_sample_range *filled; /* [n_filled] within frames that are present */
    size_t n_filled;
    size_t filled_capacity;
    wfi_invalid_runs invalid;
} wfi_vdif_window;

/** given  capacity  largest number of samples that a load asks for
 *  returned  out  to be released, on failure too */
wf_status wfi_vdif_window_create(wfi_vdif_window *out, const wfi_vdif_thread *thread,
                                 const wfi_convert *convert, int64_t capacity, wf_error *err);
void wfi_vdif_window_release(wfi_vdif_window *window);

/** Empty it for the frames that hold samples [first, first + n). */
void wfi_vdif_window_begin(wfi_vdif_window *window, int64_t first, int64_t n);

/** Where the samples of frame k belong. */
static inline uint8_t *wfi_vdif_window_slot(const wfi_vdif_window *window, int64_t k)
{
    return window->bytes + (size_t)(k - window->first_frame) * window->frame_bytes;
}

/** Put down the samples of frame k, which is right; false: there is no fill among them. The payload
 *  may stand in its slot already. */
static inline bool wfi_vdif_window_place(const wfi_vdif_window *window, int64_t k,
                                         const uint8_t *payload)
{
    uint8_t *slot = wfi_vdif_window_slot(window, k);
    window->present[k - window->first_frame] = 1;
    if (!window->direct) {
        wfi_convert_payload(window->convert, payload, window->thread->samples_per_frame, slot);
        return true;
    }
    if (payload == slot)
        return wfi_may_hold_fill(payload, window->frame_bytes);
    return wfi_copy_seeking_fill(slot, payload, window->frame_bytes);
}

static inline bool wfi_vdif_window_has(const wfi_vdif_window *window, int64_t k)
{
    return window->present[k - window->first_frame] != 0;
}

/** Frame k is not valid after all. */
void wfi_vdif_window_drop(wfi_vdif_window *window, int64_t k);

/** Some samples, by their numbers since the origin, are fill. */
wf_status wfi_vdif_window_add_fill(wfi_vdif_window *window, wf_sample_range range, wf_error *err);

/** Samples of a frame that payload bytes [begin, end) hold; those held in part count too. */
wf_sample_range wfi_vdif_window_samples(const wfi_vdif_window *window, size_t begin, size_t end);

/** returned  out  valid until the window begins anew */
wf_status wfi_vdif_window_hand_out(wfi_vdif_window *window, wf_packed *out, wf_error *err);

#endif
