/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frame rate by the frames themselves: VDIF states no rate, but the frame number goes back to
 * zero with every second, and the largest number before that is one less than the rate. A second
 * may hold gigabytes: its end is searched for by halving. */
#include "recording/vdif_stream.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_lock.h"

enum {
    N_BOUNDARIES = 3,  /* seconds looked at; the last frames of some may be lost */
    FRAMES_LEAST = 64, /* on either side of a boundary, but at least so many turns through */
    CYCLES_LEAST = 8,  /* the threads: neighbours may stand out of order */
};

typedef struct boundary_search {
    const wfi_vdif_stream *stream;
    int64_t *largest; /* [n_threads] frame number before a boundary */
    int64_t *last_second;
    int64_t *last_frame;
    int n_boundaries;
    int64_t near_bytes; /* looked at on either side of a boundary */
} boundary_search;

/* A frame, and the second that it says. */
typedef struct place {
    bool found;
    int64_t offset;
    int64_t second;
} place;

static int64_t second_of(const wfi_vdif_stream *stream, const wfi_vdif_header *h)
{
    return stream->epoch_second[h->epoch] + h->second;
}

static void take(boundary_search *b, const wfi_vdif_header *h)
{
    const int16_t i = b->stream->thread_index[h->thread];
    if (i < 0 || h->invalid || !wfi_vdif_same_layout(h, &b->stream->threads[i].pattern))
        return;
    const int64_t second = second_of(b->stream, h);
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

/* Take the headers from one place to another, until boundaries enough are passed. */
static wf_status take_between(boundary_search *b, size_t i_file, int64_t from, int64_t to,
                              wf_error *err)
{
    int64_t offset = -1;
    for (size_t k = 0; k < b->stream->n_threads; k++)
        b->last_frame[k] = -1;
    WFI_TRY(wfi_vdif_lock(b->stream, i_file, from, WFI_VDIF_LOCK_BYTES, &offset, err));
    while (offset >= 0 && offset < to && b->n_boundaries < N_BOUNDARIES) {
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

/* The first frame from a place on, if there is one near. */
static wf_status look(const boundary_search *b, size_t i_file, int64_t from, place *out,
                      wf_error *err)
{
    wfi_vdif_header header;
    *out = (place){0};
    WFI_TRY(wfi_vdif_lock(b->stream, i_file, from, b->near_bytes, &out->offset, err));
    if (out->offset < 0)
        return WF_OK;
    WFI_TRY(wfi_vdif_header_at(b->stream, i_file, out->offset, &header, &out->found, err));
    if (out->found)
        out->second = second_of(b->stream, &header);
    return WF_OK;
}

/* Step on from a frame, farther each time, to where its second is over; then halve the way between.
 *
 * returned  before  a frame of that second; the next boundary is less than near_bytes away
 */
static wf_status approach_boundary(const boundary_search *b, size_t i_file, place *before,
                                   wf_error *err)
{
    const int64_t end = b->stream->files[i_file].input.n_bytes;
    const int64_t second = before->second;
    int64_t after = end;
    for (int64_t step = b->near_bytes; before->offset + step < end; step *= 2) {
        place next;
        WFI_TRY(look(b, i_file, before->offset + step, &next, err));
        if (!next.found || next.second > second) {
            after = before->offset + step;
            break;
        }
        *before = next;
    }
    while (after - before->offset > b->near_bytes) {
        const int64_t middle = before->offset + (after - before->offset) / 2;
        place next;
        WFI_TRY(look(b, i_file, middle, &next, err));
        if (next.found && next.second <= second && next.offset < after)
            *before = next;
        else
            after = middle;
    }
    return WF_OK;
}

static wf_status look_at_file(boundary_search *b, size_t i_file, wf_error *err)
{
    const int64_t end = b->stream->files[i_file].input.n_bytes;
    int64_t from = 0;
    place p = {0};
    WFI_TRY(wfi_vdif_lock(b->stream, i_file, 0, WFI_VDIF_LOCK_BYTES, &from, err));
    while (from >= 0 && from < end && b->n_boundaries < N_BOUNDARIES) {
        WFI_TRY(look(b, i_file, from, &p, err));
        if (!p.found)
            break;
        WFI_TRY(approach_boundary(b, i_file, &p, err));
        const int64_t begin = p.offset - b->near_bytes;
        const int64_t to = p.offset + 2 * b->near_bytes;
        WFI_TRY(take_between(b, i_file, begin > from ? begin : from, to, err));
        from = to;
    }
    return WF_OK;
}

static int64_t near_bytes(const wfi_vdif_stream *stream)
{
    const int64_t n_cycles = CYCLES_LEAST * (int64_t)stream->n_threads;
    return (n_cycles > FRAMES_LEAST ? n_cycles : FRAMES_LEAST) * (int64_t)stream->longest_frame;
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
         i++)
        status = look_at_file(b, i, err);
    return status;
}

wf_status wfi_vdif_measure_rate(const wfi_vdif_stream *stream, int64_t *rate_hz, wf_error *err)
{
    boundary_search b = {.stream = stream, .near_bytes = near_bytes(stream)};
    *rate_hz = 0;
    const wf_status status = search(&b, err);
    for (size_t i = 0; status == WF_OK && i < stream->n_threads; i++) {
        const int64_t rate = (b.largest[i] + 1) * stream->threads[i].samples_per_frame;
        *rate_hz = rate > *rate_hz ? rate : *rate_hz;
    }
    wfi_free(b.largest);
    return status;
}
