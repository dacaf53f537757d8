/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each frame's payload goes where its header says, and nowhere else.
 *
 *  Time is cut into cells. The frames of a cell are those that stand, in a file, between the
 *  places of the cell's beginning and end, widened by the reorder window. What a cell holds
 *  therefore depends on the file alone and not on which load asks for it.
 */
#include "recording/vdif_reader.h"

#include <string.h>

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "recording/frame_search.h"
#include "recording/invalid_runs.h"

enum {
    CHUNK_BYTES = 1 << 20, /* read at once; stays in cache until its payloads are copied */
    GUARD_BYTES = 64,      /* readable beyond the last sample: wf_packed */
};

/* The part of one thread that a load asks for: whole frames. */
typedef struct thread_window {
    uint8_t *bytes;
    uint8_t *present; /* [n_frames] */
    size_t capacity_frames;
    int64_t first_frame; /* in frames of the thread since the origin */
    int64_t n_frames;
    wfi_invalid_runs invalid;
} thread_window;

/* Where the frames of a cell stand in the file at hand. */
typedef struct cell {
    int64_t first_position;
    int64_t end_position;
} cell;

typedef struct reader {
    const wfi_vdif_stream *stream;
    wfi_fault_log *log;
    wfi_fault_list faults; /* of the load at hand */
    wfi_frame_search search;
    thread_window *windows; /* [n_threads] */
    cell *cells;            /* [capacity_cells] */
    size_t capacity_cells;
    int64_t first_cell;
    int64_t n_cells;
    int64_t n_missing; /* frames not found yet */
    uint8_t *chunk;
    int64_t chunk_capacity; /* frames */
    int64_t chunk_position;
    int64_t chunk_frames;
} reader;

static int64_t floor_quotient(int64_t a, int64_t b)
{
    return a / b - (a % b < 0 ? 1 : 0);
}

void wfi_vdif_reader_destroy(void *p)
{
    reader *r = p;
    if (r == NULL)
        return;
    for (size_t i = 0; r->windows != NULL && i < r->stream->n_threads; i++) {
        wfi_free(r->windows[i].bytes);
        wfi_free(r->windows[i].present);
        wfi_invalid_runs_release(&r->windows[i].invalid);
    }
    wfi_free(r->windows);
    wfi_free(r->cells);
    wfi_free(r->chunk);
    wfi_fault_list_release(&r->faults);
    wfi_frame_search_release(&r->search);
    wfi_free(r);
}

static wf_status create_window(thread_window *window, const wfi_vdif_thread *thread,
                               int64_t capacity, wf_error *err)
{
    window->capacity_frames = (size_t)(capacity / thread->samples_per_frame) + 2;
    const size_t guard_frames = GUARD_BYTES / thread->sample_bytes + 1;
    WFI_TRY(wfi_allocate(&window->bytes, window->capacity_frames + guard_frames,
                         thread->sample_bytes, "the packed samples of a window", err));
    return wfi_allocate(&window->present, window->capacity_frames, 1, "the frames of a window",
                        err);
}

static wf_status create_buffers(reader *r, int64_t capacity, wf_error *err)
{
    const wfi_vdif_stream *stream = r->stream;
    WFI_TRY(wfi_frame_search_create(&r->search, stream, err));
    WFI_TRY(wfi_allocate(&r->windows, stream->n_threads, sizeof *r->windows,
                         "the threads of a window", err));
    for (size_t i = 0; i < stream->n_threads; i++)
        WFI_TRY(create_window(&r->windows[i], &stream->threads[i], capacity, err));
    /* a frame at either end reaches into one cell more */
    r->capacity_cells = (size_t)(capacity / stream->cell_samples) + 4;
    WFI_TRY(
        wfi_allocate(&r->cells, r->capacity_cells, sizeof *r->cells, "the cells of a window", err));
    r->chunk_capacity = CHUNK_BYTES / (int64_t)stream->frame_bytes;
    if (r->chunk_capacity < 1)
        r->chunk_capacity = 1;
    return wfi_allocate(&r->chunk, (size_t)r->chunk_capacity, stream->frame_bytes,
                        "reading a recording", err);
}

wf_status wfi_vdif_reader_create(void **out, const wfi_vdif_stream *stream, int64_t capacity,
                                 wfi_fault_log *log, wf_error *err)
{
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    r->stream = stream;
    r->log = log;
    *out = r;
    return create_buffers(r, capacity, err);
}

/* Which frames and cells a load needs. */
static void plan_load(reader *r, int64_t first, int64_t n)
{
    const wfi_vdif_stream *stream = r->stream;
    int64_t earliest = INT64_MAX;
    int64_t latest = INT64_MIN;
    r->n_missing = 0;
    for (size_t i = 0; i < stream->n_threads; i++) {
        thread_window *w = &r->windows[i];
        const int64_t length = stream->threads[i].samples_per_frame;
        w->first_frame = floor_quotient(first, length);
        w->n_frames = floor_quotient(first + n + length - 1, length) - w->first_frame;
        memset(w->present, 0, (size_t)w->n_frames);
        r->n_missing += w->n_frames;
        const int64_t begin = w->first_frame * length;
        const int64_t last = (w->first_frame + w->n_frames - 1) * length;
        earliest = begin < earliest ? begin : earliest;
        latest = last > latest ? last : latest;
    }
    r->first_cell = floor_quotient(earliest, stream->cell_samples);
    r->n_cells = floor_quotient(latest, stream->cell_samples) + 1 - r->first_cell;
}

/* A file holds nothing of a cell that lies outside its time span. */
static bool cell_in_file(const wfi_vdif_file *file, int64_t first_sample, int64_t end_sample)
{
    return first_sample <= file->latest && end_sample > file->earliest;
}

/* Where the frames of a cell may stand, between the places of its beginning and its end. */
static cell widen(const wfi_vdif_stream *stream, size_t i_file, wfi_frame_place first,
                  wfi_frame_place next)
{
    const int64_t n_frames = stream->files[i_file].n_frames;
    int64_t begin = first.begin - stream->reorder_frames;
    int64_t end = next.end + stream->reorder_frames;
    if (end - begin > stream->longest_cell)
        end = begin + stream->longest_cell;
    begin = begin > 0 ? begin : 0;
    return (cell){begin, end < n_frames ? end : n_frames};
}

static wf_status find_cells(reader *r, size_t i_file, wf_error *err)
{
    const wfi_vdif_stream *stream = r->stream;
    bool known = false;
    wfi_frame_place first = {0, 0};
    wfi_frame_place next = {0, 0};
    for (int64_t i = 0; i < r->n_cells; i++) {
        const int64_t begin = (r->first_cell + i) * stream->cell_samples;
        const int64_t end = begin + stream->cell_samples;
        r->cells[i] = (cell){0, 0};
        const bool there = cell_in_file(&stream->files[i_file], begin, end);
        if (there && known)
            first = next;
        else if (there)
            WFI_TRY(wfi_frame_search_find(&r->search, i_file, begin, &first, err));
        known = there;
        if (!there)
            continue;
        WFI_TRY(wfi_frame_search_find(&r->search, i_file, end, &next, err));
        r->cells[i] = widen(stream, i_file, first, next);
    }
    return WF_OK;
}

static const uint8_t *frame_in_chunk(const reader *r, int64_t position)
{
    const int64_t i = position - r->chunk_position;
    return i >= 0 && i < r->chunk_frames ? r->chunk + (size_t)i * r->stream->frame_bytes : NULL;
}

/* Read frames from a position on, as many as may still be wanted. */
static wf_status read_chunk(reader *r, size_t i_file, int64_t position, int64_t end, wf_error *err)
{
    int64_t n = end - position;
    n = n < r->n_missing ? n : r->n_missing;
    n = n < r->chunk_capacity ? n : r->chunk_capacity;
    size_t n_read = 0;
    r->chunk_frames = 0;
    WFI_TRY(wfi_input_file_read(&r->stream->files[i_file].input, position * r->stream->frame_bytes,
                                r->chunk, (size_t)n * r->stream->frame_bytes, &n_read, err));
    r->chunk_position = position;
    r->chunk_frames = (int64_t)(n_read / r->stream->frame_bytes);
    return WF_OK;
}

static wf_status peek(reader *r, size_t i_file, int64_t position, wfi_frame *frame, wf_error *err)
{
    const uint8_t *bytes = frame_in_chunk(r, position);
    if (bytes == NULL)
        return wfi_frame_search_peek(&r->search, i_file, position, frame, err);
    *frame = wfi_vdif_stream_place(r->stream, bytes, r->stream->frame_bytes);
    wfi_frame_search_remember(&r->search, i_file, position, *frame);
    return WF_OK;
}

/* The frame's place in the window; -1: not wanted, there already, or not where its time should
 * stand. */
static int64_t wanted_place(const reader *r, wfi_frame frame, int64_t position)
{
    if (frame.i_thread < 0)
        return -1;
    const thread_window *w = &r->windows[frame.i_thread];
    const int64_t place =
        frame.first / r->stream->threads[frame.i_thread].samples_per_frame - w->first_frame;
    if (place < 0 || place >= w->n_frames || w->present[place])
        return -1;
    const cell *c = &r->cells[floor_quotient(frame.first, r->stream->cell_samples) - r->first_cell];
    return position >= c->first_position && position < c->end_position ? place : -1;
}

/* Recorders write this word where they have lost the data (common practice). */
static bool is_fill(const uint8_t *payload, size_t n)
{
    static const uint32_t FILL = 0x11223344;
    enum { WORDS_THAT_PROVE_IT = 32 };
    const size_t n_words = n / 4;
    if (n_words == 0 || wfi_le32(payload) != FILL ||
        wfi_le32(payload + 4 * (n_words / 2)) != FILL ||
        wfi_le32(payload + 4 * (n_words - 1)) != FILL)
        return false;
    for (size_t i = 0; i < n_words && i < WORDS_THAT_PROVE_IT; i++)
        if (wfi_le32(payload + 4 * i) != FILL)
            return false;
    return true;
}

static void place_frame(reader *r, wfi_frame frame, int64_t place, const uint8_t *bytes)
{
    const wfi_vdif_thread *thread = &r->stream->threads[frame.i_thread];
    thread_window *w = &r->windows[frame.i_thread];
    const uint8_t *payload = bytes + thread->header_bytes;
    if (is_fill(payload, thread->sample_bytes))
        return;
    memcpy(w->bytes + (size_t)place * thread->sample_bytes, payload, thread->sample_bytes);
    w->present[place] = 1;
    r->n_missing--;
}

static wf_status scan(reader *r, size_t i_file, cell span, wf_error *err)
{
    for (int64_t position = span.first_position; position < span.end_position && r->n_missing > 0;
         position++) {
        wfi_frame frame;
        WFI_TRY(peek(r, i_file, position, &frame, err));
        if (wanted_place(r, frame, position) < 0)
            continue;
        if (frame_in_chunk(r, position) == NULL) {
            WFI_TRY(read_chunk(r, i_file, position, span.end_position, err));
            if (r->chunk_frames == 0)
                return WF_OK; /* the file has become shorter: what is gone is missing */
            WFI_TRY(peek(r, i_file, position, &frame, err));
        }
        const int64_t place = wanted_place(r, frame, position);
        if (place >= 0)
            place_frame(r, frame, place, frame_in_chunk(r, position));
    }
    return WF_OK;
}

/* Cells that overlap or touch are gone through in one sweep. */
static wf_status scan_cells(reader *r, size_t i_file, wf_error *err)
{
    cell span = {0, 0};
    r->chunk_frames = 0;
    for (int64_t i = 0; i < r->n_cells; i++) {
        const cell c = r->cells[i];
        if (c.first_position >= c.end_position)
            continue;
        if (c.first_position > span.end_position || c.end_position < span.first_position) {
            WFI_TRY(scan(r, i_file, span, err));
            span = c;
            continue;
        }
        if (c.first_position < span.first_position)
            span.first_position = c.first_position;
        if (c.end_position > span.end_position)
            span.end_position = c.end_position;
    }
    return scan(r, i_file, span, err);
}

static wf_status lose(reader *r, size_t i_thread, int64_t first, int64_t n, wf_error *err)
{
    const wfi_fault fault = {.kind = WF_FAULT_MISSING,
                             .i_thread = (int32_t)i_thread,
                             .loses_samples = true,
                             .has_time = true,
                             .n_frames = 1,
                             .first = first,
                             .n = n};
    if (first + n > r->stream->first_sample && first < r->stream->end_sample)
        WFI_TRY(wfi_fault_list_append(&r->faults, fault, err));
    return wfi_invalid_runs_append(&r->windows[i_thread].invalid, first, n, err);
}

static wf_status hand_out(reader *r, size_t i_thread, wf_packed *packed, wf_error *err)
{
    const int64_t length = r->stream->threads[i_thread].samples_per_frame;
    thread_window *w = &r->windows[i_thread];
    w->invalid.n = 0;
    for (int64_t i = 0; i < w->n_frames; i++)
        if (!w->present[i])
            WFI_TRY(lose(r, i_thread, (w->first_frame + i) * length, length, err));
    *packed = (wf_packed){
        .bytes = w->bytes,
        .first = w->first_frame * length,
        .n = w->n_frames * length,
        .invalid = w->invalid.runs,
        .n_invalid = w->invalid.n,
    };
    return WF_OK;
}

wf_status wfi_vdif_reader_load(void *p, wf_packed *packed, int64_t first, int64_t n, wf_error *err)
{
    reader *r = p;
    plan_load(r, first, n);
    for (size_t i = 0; i < r->stream->n_files && r->n_missing > 0; i++) {
        WFI_TRY(find_cells(r, i, err));
        WFI_TRY(scan_cells(r, i, err));
    }
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(hand_out(r, i, &packed[i], err));
    return wfi_fault_log_take(r->log, &r->faults, err);
}
