/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Searching by time in files that are in time order up to a bounded disorder.
 *
 *  A recording mostly runs at an even pace, so the place is guessed by interpolation and bracketed
 *  closely; where the guess is wrong (gaps) the bracket is halved. Single frames with a wrong time
 *  are outvoted: the time at a place is the median of a few frames. Every step depends on the
 *  files' contents only, so that any reader finds the same frames whatever it read before.
 */
#include "recording/frame_search.h"

#include "base/memory.h"
#include "base/status.h"

enum {
    N_MEDIAN = 5,           /* frames that vote on the time at a place */
    N_NEAR = 16,            /* positions looked at to find them */
    N_FAR = 128,            /* places tried across a stretch without a valid frame */
    MEMORY_PER_REORDER = 8, /* a load's margins fit into the memory */
    SMALLEST_MEMORY = 1024,
};

static const int64_t NO_SAMPLE = INT64_MIN;

typedef struct wfi_frame_memory {
    int64_t position; /* one more than the position, so that 0 is none */
    int64_t first;
    int32_t i_thread;
    uint32_t i_file;
} wfi_frame_memory;

wf_status wfi_frame_search_create(wfi_frame_search *out, const wfi_vdif_stream *stream,
                                  wf_error *err)
{
    size_t n = SMALLEST_MEMORY;
    while (n < (size_t)(MEMORY_PER_REORDER * stream->reorder_frames))
        n *= 2;
    *out = (wfi_frame_search){.stream = stream, .mask = n - 1};
    return wfi_allocate(&out->memory, n, sizeof *out->memory, "the frame headers seen", err);
}

void wfi_frame_search_release(wfi_frame_search *search)
{
    wfi_free(search->memory);
    search->memory = NULL;
}

static wfi_frame_memory *slot_of(const wfi_frame_search *search, size_t i_file, int64_t position)
{
    return &search->memory[((size_t)position + 7919 * i_file) & search->mask];
}

void wfi_frame_search_remember(wfi_frame_search *search, size_t i_file, int64_t position,
                               wfi_frame frame)
{
    *slot_of(search, i_file, position) =
        (wfi_frame_memory){position + 1, frame.first, frame.i_thread, (uint32_t)i_file};
}

wf_status wfi_frame_search_peek(wfi_frame_search *search, size_t i_file, int64_t position,
                                wfi_frame *out, wf_error *err)
{
    const wfi_frame_memory *slot = slot_of(search, i_file, position);
    if (slot->position == position + 1 && slot->i_file == i_file) {
        *out = (wfi_frame){slot->i_thread, slot->first};
        return WF_OK;
    }
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    size_t n = 0;
    const wfi_vdif_stream *stream = search->stream;
    WFI_TRY(wfi_input_file_read(&stream->files[i_file].input, position * stream->frame_bytes, bytes,
                                sizeof bytes, &n, err));
    *out = wfi_vdif_stream_place(stream, bytes, n);
    wfi_frame_search_remember(search, i_file, position, *out);
    return WF_OK;
}

static void sort(int64_t *values, size_t n)
{
    for (size_t i = 1; i < n; i++)
        for (size_t j = i; j > 0 && values[j - 1] > values[j]; j--) {
            const int64_t swapped = values[j];
            values[j] = values[j - 1];
            values[j - 1] = swapped;
        }
}

/* Median of the first samples of the valid frames at and next to a position. */
static wf_status sample_near(wfi_frame_search *search, size_t i_file, int64_t position,
                             int direction, int64_t *sample, wf_error *err)
{
    const int64_t n_frames = search->stream->files[i_file].n_frames;
    int64_t votes[N_MEDIAN];
    size_t n = 0;
    for (int64_t i = 0; i < N_NEAR && n < N_MEDIAN; i++) {
        const int64_t at = position + direction * i;
        if (at < 0 || at >= n_frames)
            break;
        wfi_frame frame;
        WFI_TRY(wfi_frame_search_peek(search, i_file, at, &frame, err));
        if (frame.i_thread >= 0)
            votes[n++] = frame.first;
    }
    sort(votes, n);
    *sample = n > 0 ? votes[n / 2] : NO_SAMPLE;
    return WF_OK;
}

/* The same; across a stretch without valid frames the next place beyond it speaks. The number of
 * places is bounded, so a file full of fill costs no more than another one. */
wf_status wfi_frame_search_sample(wfi_frame_search *search, size_t i_file, int64_t position,
                                  int direction, int64_t *sample, wf_error *err)
{
    const int64_t n_frames = search->stream->files[i_file].n_frames;
    WFI_TRY(sample_near(search, i_file, position, direction, sample, err));
    for (int64_t step = N_NEAR; *sample == NO_SAMPLE; step *= 2) {
        const int64_t at = position + direction * step;
        if (at < 0 || at >= n_frames)
            break;
        WFI_TRY(sample_near(search, i_file, at, direction, sample, err));
    }
    const int64_t room = direction > 0 ? n_frames - 1 - position : position;
    for (int64_t i = 1; *sample == NO_SAMPLE && i <= N_FAR; i++)
        WFI_TRY(sample_near(search, i_file, position + direction * (room / N_FAR * i), direction,
                            sample, err));
    return WF_OK;
}

/* low's sample is before the wanted one, high's is not. */
typedef struct bracket {
    int64_t low;
    int64_t low_sample;
    int64_t high;
    int64_t high_sample;
} bracket;

static wf_status narrow(wfi_frame_search *search, size_t i_file, int64_t wanted, int64_t position,
                        bracket *b, wf_error *err)
{
    if (position <= b->low || position >= b->high)
        return WF_OK;
    int64_t sample = 0;
    WFI_TRY(wfi_frame_search_sample(search, i_file, position, +1, &sample, err));
    if (sample != NO_SAMPLE && sample < wanted) {
        b->low = position;
        b->low_sample = sample;
        return WF_OK;
    }
    b->high = position;
    if (sample != NO_SAMPLE)
        b->high_sample = sample;
    return WF_OK;
}

static int64_t interpolate(const bracket *b, int64_t wanted)
{
    const double fraction =
        (double)(wanted - b->low_sample) / (double)(b->high_sample - b->low_sample);
    return b->low + (int64_t)((double)(b->high - b->low) * fraction);
}

wf_status wfi_frame_search_find(wfi_frame_search *search, size_t i_file, int64_t sample,
                                int64_t *position, wf_error *err)
{
    const int64_t n_frames = search->stream->files[i_file].n_frames;
    bracket b = {.low = 0, .high = n_frames - 1};
    WFI_TRY(wfi_frame_search_sample(search, i_file, b.low, +1, &b.low_sample, err));
    WFI_TRY(wfi_frame_search_sample(search, i_file, b.high, -1, &b.high_sample, err));
    if (b.low_sample == NO_SAMPLE || b.low_sample >= sample) {
        *position = 0;
        return WF_OK;
    }
    if (b.high_sample < sample) {
        *position = n_frames;
        return WF_OK;
    }
    while (b.high - b.low > WFI_FRAME_SEARCH_SPAN) {
        const int64_t guess = interpolate(&b, sample);
        WFI_TRY(narrow(search, i_file, sample, guess - WFI_FRAME_SEARCH_SPAN / 2, &b, err));
        WFI_TRY(narrow(search, i_file, sample, guess + WFI_FRAME_SEARCH_SPAN / 2, &b, err));
        if (b.high - b.low > WFI_FRAME_SEARCH_SPAN)
            WFI_TRY(narrow(search, i_file, sample, b.low + (b.high - b.low) / 2, &b, err));
    }
    *position = b.low;
    return WF_OK;
}
