/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_window.h"

#include <string.h>

#include "base/memory.h"
#include "base/status.h"

enum {
    GUARD_BYTES = 64, /* readable beyond the last sample: wf_packed */
    /* Shorter payloads are copied faster out of one large read than read into their places. */
    SHORTEST_LANDING_BYTES = 8000,
};

wf_status wfi_vdif_window_create(wfi_vdif_window *out, const wfi_vdif_thread *thread,
                                 const wfi_convert *convert, int64_t capacity, wf_error *err)
{
    *out = (wfi_vdif_window){.thread = thread, .convert = convert};
    const size_t n_frames = (size_t)(capacity / thread->samples_per_frame) + 2;
    out->frame_bytes = wfi_convert_bytes(convert, thread->samples_per_frame);
    out->direct = convert->plain && out->frame_bytes == thread->payload_bytes;
    out->lands = out->direct && thread->header_bytes >= WFI_VDIF_HEADER_BYTES &&
                 thread->payload_bytes >= SHORTEST_LANDING_BYTES;
    const size_t guard_frames = GUARD_BYTES / out->frame_bytes + 1;
    WFI_TRY(wfi_allocate(&out->bytes, n_frames + guard_frames, out->frame_bytes,
                         "the packed samples of a window", err));
    return wfi_allocate(&out->present, n_frames, 1, "the frames of a window", err);
}

void wfi_vdif_window_release(wfi_vdif_window *window)
{
    wfi_free(window->bytes);
    wfi_free(window->present);
    wfi_free(window->filled);
    wfi_invalid_runs_release(&window->invalid);
}

static int64_t floor_quotient(int64_t a, int64_t b)
{
    return a / b - (a % b < 0 ? 1 : 0);
}

void wfi_vdif_window_begin(wfi_vdif_window *window, int64_t first, int64_t n)
{
    const int64_t length = window->thread->samples_per_frame;
    window->first_frame = floor_quotient(first, length);
    window->n_frames = floor_quotient(first + n + length - 1, length) - window->first_frame;
    window->n_filled = 0;
    memset(window->present, 0, (size_t)window->n_frames);
}

void wfi_vdif_window_drop(wfi_vdif_window *window, int64_t k)
{
    window->present[k - window->first_frame] = 0;
}

wf_status wfi_vdif_window_add_fill(wfi_vdif_window *window, wf_sample_range range, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&window->filled, &window->filled_capacity, window->n_filled + 1,
                              sizeof range, "the fill of a window", err));
    window->filled[window->n_filled++] = range;
    return WF_OK;
}

wf_sample_range wfi_vdif_window_samples(const wfi_vdif_window *window, size_t begin, size_t end)
{
    const wfi_convert *convert = window->convert;
    const wf_sample_format *f = &convert->format;
    const int64_t group = (f->is_complex ? 2 : 1) * (int64_t)f->n_channels;
    const int64_t n = window->thread->samples_per_frame;
    int64_t from = 0;
    int64_t to = 0;
    if (convert->repack) {
        from = (int64_t)(begin / 4) * convert->codes_a_word / group;
        to = (int64_t)((end + 3) / 4) * convert->codes_a_word / group;
    } else {
        const int64_t bits = group * convert->bits;
        from = 8 * (int64_t)begin / bits;
        to = (8 * (int64_t)end + bits - 1) / bits;
    }
    to = to < n ? to : n;
    return (wf_sample_range){from, to > from ? to - from : 0};
}

/* Frames that are not there, from frame i on. */
static int64_t next_missing(const wfi_vdif_window *window, int64_t i)
{
    const uint8_t *missing = memchr(window->present + i, 0, (size_t)(window->n_frames - i));
    return missing != NULL ? missing - window->present : window->n_frames;
}

static wf_status append_fill(wfi_vdif_window *window, size_t *i, int64_t end, wf_error *err)
{
    const int64_t length = window->thread->samples_per_frame;
    for (; *i < window->n_filled && window->filled[*i].first < end; ++*i) {
        const wf_sample_range range = window->filled[*i];
        if (wfi_vdif_window_has(window, floor_quotient(range.first, length)))
            WFI_TRY(wfi_invalid_runs_append(&window->invalid, range.first, range.n, err));
    }
    return WF_OK;
}

wf_status wfi_vdif_window_hand_out(wfi_vdif_window *window, wf_packed *out, wf_error *err)
{
    const int64_t length = window->thread->samples_per_frame;
    size_t i_fill = 0;
    window->invalid.n = 0;
    wfi_sort_ranges(window->filled, window->n_filled);
    for (int64_t i = next_missing(window, 0); i < window->n_frames;
         i = next_missing(window, i + 1)) {
        const int64_t first = (window->first_frame + i) * length;
        WFI_TRY(append_fill(window, &i_fill, first, err));
        WFI_TRY(wfi_invalid_runs_append(&window->invalid, first, length, err));
    }
    WFI_TRY(append_fill(window, &i_fill, INT64_MAX, err));
    *out = (wf_packed){
        .bytes = window->bytes,
        .first = window->first_frame * length,
        .n = window->n_frames * length,
        .invalid = window->invalid.runs,
        .n_invalid = window->invalid.n,
    };
    return WF_OK;
}
