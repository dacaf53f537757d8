/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frame rate by the frames themselves: VDIF states no rate, but the frame number goes back to
 * zero with every second, and the largest number before that is one less than the rate. */
#include "recording/vdif_stream.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/frame_search.h"

enum {
    N_BOUNDARIES = 8,        /* seconds looked at in a file; the last frames of some may be lost */
    FRAME_NUMBERS = 1 << 24, /* of a second: 24 bits */
};

/* The same frames, where "sample" is second x 2^24 + frame number: an order in time without a
 * rate. */
static void number_by_seconds(wfi_vdif_stream *stream)
{
    stream->sample_rate_hz = FRAME_NUMBERS;
    for (size_t i = 0; i < stream->n_threads; i++) {
        stream->threads[i].samples_per_frame = 1;
        stream->threads[i].frames_per_second = FRAME_NUMBERS;
    }
}

/* Largest frame number of each thread in the second that ends at `boundary`. */
static wf_status look_before(wfi_frame_search *search, size_t i_file, int64_t boundary,
                             int64_t *largest, wf_error *err)
{
    const wfi_vdif_stream *stream = search->stream;
    const int64_t n_frames = stream->files[i_file].n_frames;
    wfi_frame_place place;
    WFI_TRY(wfi_frame_search_find(search, i_file, boundary, &place, err));
    const int64_t begin = place.begin - stream->reorder_frames;
    const int64_t end = place.end + stream->reorder_frames;
    for (int64_t i = begin > 0 ? begin : 0; i < end && i < n_frames; i++) {
        wfi_frame frame;
        WFI_TRY(wfi_frame_search_peek(search, i_file, i, &frame, err));
        const int64_t number = frame.first - (boundary - FRAME_NUMBERS);
        if (frame.i_thread >= 0 && number >= 0 && number < FRAME_NUMBERS &&
            number > largest[frame.i_thread])
            largest[frame.i_thread] = number;
    }
    return WF_OK;
}

static wf_status look_at_file(wfi_frame_search *search, size_t i_file, int64_t *largest,
                              wf_error *err)
{
    int64_t first = 0;
    int64_t last = 0;
    WFI_TRY(wfi_frame_search_sample(search, i_file, +1, &first, err));
    WFI_TRY(wfi_frame_search_sample(search, i_file, -1, &last, err));
    if (first == INT64_MIN || last <= first)
        return WF_OK;
    /* boundaries lie in (first, last] */
    const int64_t begin = first / FRAME_NUMBERS - (first % FRAME_NUMBERS < 0) + 1;
    const int64_t end = last / FRAME_NUMBERS - (last % FRAME_NUMBERS < 0) + 1;
    const int64_t step = (end - begin) / N_BOUNDARIES + 1;
    for (int64_t second = begin; second < end; second += step)
        WFI_TRY(look_before(search, i_file, second * FRAME_NUMBERS, largest, err));
    return WF_OK;
}

static wf_status look_at_files(wfi_vdif_stream *by_seconds, int64_t *largest, wf_error *err)
{
    wfi_frame_search search = {0};
    wf_status status = wfi_frame_search_create(&search, by_seconds, err);
    for (size_t i = 0; i < by_seconds->n_files && i < N_BOUNDARIES && status == WF_OK; i++)
        status = look_at_file(&search, i, largest, err);
    wfi_frame_search_release(&search);
    return status;
}

wf_status wfi_vdif_measure_rate(const wfi_vdif_stream *stream, int64_t *rate_hz, wf_error *err)
{
    *rate_hz = 0;
    wfi_vdif_stream by_seconds = *stream;
    int64_t *largest = NULL;
    by_seconds.threads = NULL;
    wf_status status = wfi_allocate(&by_seconds.threads, stream->n_threads,
                                    sizeof *by_seconds.threads, "measuring the frame rate", err);
    if (status == WF_OK)
        status = wfi_allocate(&largest, stream->n_threads, sizeof *largest,
                              "measuring the frame rate", err);
    for (size_t i = 0; status == WF_OK && i < stream->n_threads; i++) {
        by_seconds.threads[i] = stream->threads[i];
        largest[i] = -1;
    }
    if (status == WF_OK) {
        number_by_seconds(&by_seconds);
        status = look_at_files(&by_seconds, largest, err);
    }
    for (size_t i = 0; status == WF_OK && i < stream->n_threads; i++) {
        const int64_t rate = (largest[i] + 1) * stream->threads[i].samples_per_frame;
        *rate_hz = rate > *rate_hz ? rate : *rate_hz;
    }
    wfi_free(by_seconds.threads);
    wfi_free(largest);
    return status;
}
