/* SPDX-License-Identifier: GPL-3.0-or-later */
/* VDIF recordings: each frame's payload goes where its header says, and nowhere else.
 *
 *  Time is cut into cells. The frames of a cell are those that stand, in a file, between the
 *  places of the cell's beginning and end, widened by the reorder window. What a cell holds
 *  therefore depends on the file alone and not on which load asks for it.
 */
#include "recording/format.h"

#include <string.h>

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "recording/frame_search.h"
#include "recording/invalid_runs.h"
#include "recording/vdif_stream.h"

enum {
    CHUNK_BYTES = 1 << 20, /* read at once; stays in cache until its payloads are copied */
    GUARD_BYTES = 64,      /* readable beyond the last sample: wf_packed */
    NAME_IS_SURE = 90,     /* scores of probe */
    NAME_IS_LIKELY = 40,
};

typedef struct vdif {
    wfi_vdif_stream stream;
    wf_thread_info *threads;
} vdif;

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

static int probe(const uint8_t *head, size_t n)
{
    wfi_vdif_header first, next;
    if (!wfi_vdif_header_decode(&first, head, n) || wfi_vdif_header_fault(&first) != NULL)
        return 0;
    if (first.frame_bytes >= n ||
        !wfi_vdif_header_decode(&next, head + first.frame_bytes, n - first.frame_bytes))
        return NAME_IS_LIKELY;
    return wfi_vdif_header_fault(&next) == NULL && next.frame_bytes == first.frame_bytes
               ? NAME_IS_SURE
               : NAME_IS_LIKELY / 2;
}

static void close_vdif(void *state)
{
    vdif *v = state;
    if (v == NULL)
        return;
    wfi_vdif_stream_close(&v->stream);
    wfi_free(v->threads);
    wfi_free(v);
}

static void describe(const vdif *v, wf_recording_info *info)
{
    const wfi_vdif_stream *stream = &v->stream;
    for (size_t i = 0; i < stream->n_threads; i++) {
        const wfi_vdif_header *h = &stream->threads[i].pattern;
        v->threads[i].thread = stream->threads[i].id;
        v->threads[i].format = (wf_sample_format){WF_ENCODING_OFFSET_BINARY, h->bits, h->is_complex,
                                                  UINT32_C(1) << h->log2_channels};
    }
    *info = (wf_recording_info){
        .format_name = "VDIF",
        .origin = {stream->origin_second, 0.0},
        .sample_rate_hz = stream->sample_rate_hz,
        .first = stream->first_sample,
        .end = stream->end_sample,
        .threads = v->threads,
        .n_threads = stream->n_threads,
    };
}

static wf_status open_vdif(void **state, wf_recording_info *info, const wf_recording_entry *entry,
                           wf_error *err)
{
    vdif *v = NULL;
    WFI_TRY(wfi_allocate(&v, 1, sizeof *v, "a recording", err));
    *state = v;
    WFI_TRY(wfi_vdif_stream_open(&v->stream, entry, err));
    WFI_TRY(wfi_allocate(&v->threads, v->stream.n_threads, sizeof *v->threads,
                         "the threads of a recording", err));
    describe(v, info);
    return WF_OK;
}

static void reader_destroy(void *p)
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

static wf_status reader_create(void **out, const void *state, int64_t capacity, wf_error *err)
{
    const vdif *v = state;
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    r->stream = &v->stream;
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
static bool cell_in_file(const reader *r, int64_t i_cell, const wfi_vdif_file *file)
{
    const int64_t length = r->stream->cell_samples;
    const int64_t first = i_cell * length;
    return first <= file->latest && first + length > file->earliest;
}

/* Find the cells in a file, and the range of positions that spans them all. */
static wf_status find_cells(reader *r, size_t i_file, cell *span, wf_error *err)
{
    const wfi_vdif_stream *stream = r->stream;
    const wfi_vdif_file *file = &stream->files[i_file];
    *span = (cell){file->n_frames, 0};
    for (int64_t i = 0; i < r->n_cells; i++) {
        const int64_t i_cell = r->first_cell + i;
        r->cells[i] = (cell){0, 0};
        if (!cell_in_file(r, i_cell, file))
            continue;
        wfi_frame_place first, next;
        WFI_TRY(
            wfi_frame_search_find(&r->search, i_file, i_cell * stream->cell_samples, &first, err));
        WFI_TRY(wfi_frame_search_find(&r->search, i_file, (i_cell + 1) * stream->cell_samples,
                                      &next, err));
        const int64_t begin = first.begin - stream->reorder_frames;
        const int64_t end = next.end + stream->reorder_frames;
        r->cells[i].first_position = begin > 0 ? begin : 0;
        r->cells[i].end_position = end < file->n_frames ? end : file->n_frames;
        if (r->cells[i].first_position < span->first_position)
            span->first_position = r->cells[i].first_position;
        if (r->cells[i].end_position > span->end_position)
            span->end_position = r->cells[i].end_position;
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
    r->chunk_frames = 0;
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

static wf_status hand_out(reader *r, size_t i_thread, wf_packed *packed, wf_error *err)
{
    const int64_t length = r->stream->threads[i_thread].samples_per_frame;
    thread_window *w = &r->windows[i_thread];
    w->invalid.n = 0;
    for (int64_t i = 0; i < w->n_frames; i++)
        if (!w->present[i])
            WFI_TRY(
                wfi_invalid_runs_append(&w->invalid, (w->first_frame + i) * length, length, err));
    *packed = (wf_packed){
        .bytes = w->bytes,
        .first = w->first_frame * length,
        .n = w->n_frames * length,
        .invalid = w->invalid.runs,
        .n_invalid = w->invalid.n,
    };
    return WF_OK;
}

static wf_status load(void *p, wf_packed *packed, int64_t first, int64_t n, wf_error *err)
{
    reader *r = p;
    plan_load(r, first, n);
    for (size_t i = 0; i < r->stream->n_files && r->n_missing > 0; i++) {
        cell span;
        WFI_TRY(find_cells(r, i, &span, err));
        WFI_TRY(scan(r, i, span, err));
    }
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(hand_out(r, i, &packed[i], err));
    return WF_OK;
}

const wfi_format wfi_vdif = {
    .name = "VDIF",
    .code = WF_FILE_FORMAT_VDIF,
    .probe = probe,
    .open = open_vdif,
    .close = close_vdif,
    .reader_create = reader_create,
    .reader_destroy = reader_destroy,
    .load = load,
};
