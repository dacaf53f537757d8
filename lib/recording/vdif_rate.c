/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frame rate by the frames themselves: VDIF states no rate, but the frame number goes back to
 * zero with every second, and the largest number before that is one less than the rate. */
#include "recording/vdif_stream.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_lock.h"

enum {
    N_BOUNDARIES = 3, /* seconds looked at; the last frames of some may be lost */
    FRAMES_LOOKED_AT = 1 << 22,
};

typedef struct boundary_search {
    const wfi_vdif_stream *stream;
    int64_t *largest; /* [n_threads] frame number before a boundary */
    int64_t *last_second;
    int64_t *last_frame;
    int n_boundaries;
} boundary_search;

static void take(boundary_search *b, const wfi_vdif_header *h)
{
    const int16_t i = b->stream->thread_index[h->thread];
    if (i < 0 || h->invalid || !wfi_vdif_same_layout(h, &b->stream->threads[i].pattern))
        return;
    const int64_t second = b->stream->epoch_second[h->epoch] + h->second;
    if (b->last_frame[i] >= 0 && second == b->last_second[i] + 1) {
        b->n_boundaries += i == 0;
        if (b->last_frame[i] > b->largest[i])
            b->largest[i] = b->last_frame[i];
    }
    if (b->last_frame[i] < 0 || second > b->last_second[i] || h->frame > b->last_frame[i]) {
        b->last_second[i] = second;
        b->last_frame[i] = h->frame;
    }
}

static wf_status look_at_file(boundary_search *b, size_t i_file, wf_error *err)
{
    int64_t offset = -1;
    WFI_TRY(wfi_vdif_lock(b->stream, i_file, 0, WFI_VDIF_LOCK_BYTES, &offset, err));
    for (int64_t i = 0; offset >= 0 && i < FRAMES_LOOKED_AT && b->n_boundaries < N_BOUNDARIES;
         i++) {
        wfi_vdif_header header;
        bool found = false;
        WFI_TRY(wfi_vdif_header_at(b->stream, i_file, offset, &header, &found, err));
        if (!found)
            break;
        if (!wfi_vdif_is_length_word(b->stream, header.frame_bytes / 8)) {
            WFI_TRY(
                wfi_vdif_lock(b->stream, i_file, offset + 1, WFI_VDIF_LOCK_BYTES, &offset, err));
            continue;
        }
        take(b, &header);
        offset += wfi_vdif_pitch(b->stream, i_file, header.frame_bytes);
    }
    return WF_OK;
}

static wf_status search(boundary_search *b, wf_error *err)
{
    const wfi_vdif_stream *stream = b->stream;
    int64_t *numbers = NULL;
    WFI_TRY(wfi_allocate(&numbers, 3 * stream->n_threads, sizeof *numbers,
                         "measuring the frame rate", err));
    for (size_t i = 0; i < 3 * stream->n_threads; i++)
        numbers[i] = -1;
    b->largest = numbers;
    b->last_second = numbers + stream->n_threads;
    b->last_frame = numbers + 2 * stream->n_threads;
    wf_status status = WF_OK;
    for (size_t i = 0; i < stream->n_files && b->n_boundaries < N_BOUNDARIES && status == WF_OK;
         i++) {
        for (size_t k = 0; k < stream->n_threads; k++)
            b->last_frame[k] = -1;
        status = look_at_file(b, i, err);
    }
    return status;
}

wf_status wfi_vdif_measure_rate(const wfi_vdif_stream *stream, int64_t *rate_hz, wf_error *err)
{
    boundary_search b = {.stream = stream};
    *rate_hz = 0;
    const wf_status status = search(&b, err);
    for (size_t i = 0; status == WF_OK && i < stream->n_threads; i++) {
        const int64_t rate = (b.largest[i] + 1) * stream->threads[i].samples_per_frame;
        *rate_hz = rate > *rate_hz ? rate : *rate_hz;
    }
    wfi_free(b.largest);
    return status;
}
