/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each frame's payload goes where its header says, and nowhere else.
 *
 *  The index tells where the frames of a load stand; they are read in the order of the file, and
 *  each header is held against what was expected. Where an index that was made from a sample turns
 *  out wrong it is made exact there and the load begun anew, so that what a load yields depends on
 *  the files alone.
 */
#include "recording/vdif_reader.h"

#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "recording/invalid_runs.h"
#include "recording/vdif_fill.h"

enum {
    CHUNK_BYTES = 1 << 20, /* read at once; stays in cache until its payloads are copied */
    GUARD_BYTES = 64,      /* readable beyond the last sample: wf_packed */
};

/* The part of one thread that a load asks for: whole frames. */
typedef struct thread_window {
    uint8_t *bytes;
    uint8_t *present; /* [n_frames] */
    size_t capacity_frames;
    size_t frame_bytes;  /* of a frame's samples as handed out */
    int64_t first_frame; /* in frames of the thread since the origin */
    int64_t n_frames;
    wf_sample_range *filled; /* [n_filled] within frames that are present */
    size_t n_filled;
    size_t filled_capacity;
    wfi_invalid_runs invalid;
} thread_window;

/* Frames of one thread that are still to be read. */
typedef struct piece {
    wfi_run run;
    int32_t i_thread;
} piece;

/* A frame that was not as expected. */
typedef struct failure {
    piece frame; /* one */
    wf_fault_kind kind;
    bool misplaced; /* the index may be wrong there */
} failure;

typedef struct reader {
    wfi_vdif_index *index;
    const wfi_vdif_stream *stream;
    const wfi_convert *converts; /* [n_threads] */
    thread_window *windows;      /* [n_threads] */
    wfi_run_list found;
    piece *pieces; /* [n_pieces] a heap: the first is the next in the files */
    size_t n_pieces;
    size_t pieces_capacity;
    failure *failures; /* [n_failures] */
    size_t n_failures;
    size_t failures_capacity;
    wfi_fault_list faults; /* of the load at hand */
    uint8_t *chunk;
    size_t chunk_capacity;
    uint32_t chunk_file;
    int64_t chunk_offset;
    size_t chunk_bytes;
    bool chunk_refused;
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
        wfi_free(r->windows[i].filled);
        wfi_invalid_runs_release(&r->windows[i].invalid);
    }
    wfi_run_list_release(&r->found);
    wfi_fault_list_release(&r->faults);
    wfi_free(r->windows);
    wfi_free(r->pieces);
    wfi_free(r->failures);
    wfi_free(r->chunk);
    wfi_free(r);
}

static wf_status create_window(thread_window *window, const wfi_vdif_thread *thread,
                               const wfi_convert *convert, int64_t capacity, wf_error *err)
{
    window->capacity_frames = (size_t)(capacity / thread->samples_per_frame) + 2;
    window->frame_bytes = wfi_convert_bytes(convert, thread->samples_per_frame);
    const size_t guard_frames = GUARD_BYTES / window->frame_bytes + 1;
    WFI_TRY(wfi_allocate(&window->bytes, window->capacity_frames + guard_frames,
                         window->frame_bytes, "the packed samples of a window", err));
    return wfi_allocate(&window->present, window->capacity_frames, 1, "the frames of a window",
                        err);
}

wf_status wfi_vdif_reader_create(void **out, wfi_vdif_index *index, const wfi_convert *converts,
                                 int64_t capacity, wf_error *err)
{
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    *out = r;
    r->index = index;
    r->stream = index->stream;
    r->converts = converts;
    WFI_TRY(wfi_allocate(&r->windows, r->stream->n_threads, sizeof *r->windows,
                         "the threads of a window", err));
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(create_window(&r->windows[i], &r->stream->threads[i], &converts[i], capacity, err));
    int64_t largest = 0;
    for (size_t i = 0; i < r->stream->n_files; i++)
        if (r->stream->files[i].input.n_bytes > largest)
            largest = r->stream->files[i].input.n_bytes;
    r->chunk_capacity = largest < CHUNK_BYTES ? (size_t)largest : (size_t)CHUNK_BYTES;
    if (r->chunk_capacity < r->stream->longest_frame)
        r->chunk_capacity = r->stream->longest_frame;
    return wfi_allocate(&r->chunk, r->chunk_capacity + WFI_VDIF_HEADER_BYTES, 1,
                        "reading a recording", err);
}

/* ----- which frames, where */

static bool stands_before(const piece *a, const piece *b)
{
    return a->run.i_file != b->run.i_file ? a->run.i_file < b->run.i_file
                                          : a->run.offset < b->run.offset;
}

static void swap(reader *r, size_t i, size_t k)
{
    const piece swapped = r->pieces[i];
    r->pieces[i] = r->pieces[k];
    r->pieces[k] = swapped;
}

static wf_status push(reader *r, piece p, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&r->pieces, &r->pieces_capacity, r->n_pieces + 1, sizeof p,
                              "the frames of a window", err));
    r->pieces[r->n_pieces] = p;
    for (size_t i = r->n_pieces++; i > 0 && stands_before(&r->pieces[i], &r->pieces[(i - 1) / 2]);
         i = (i - 1) / 2)
        swap(r, i, (i - 1) / 2);
    return WF_OK;
}

/* The first piece has lost a frame: put it where it belongs, or take it away. */
static void advance(reader *r)
{
    piece *first = &r->pieces[0];
    if (first->run.n > 1)
        first->run = wfi_run_part(first->run, first->run.k + 1, first->run.k + first->run.n);
    else
        *first = r->pieces[--r->n_pieces];
    for (size_t i = 0; 2 * i + 1 < r->n_pieces;) {
        size_t child = 2 * i + 1;
        if (child + 1 < r->n_pieces && stands_before(&r->pieces[child + 1], &r->pieces[child]))
            child++;
        if (!stands_before(&r->pieces[child], &r->pieces[i]))
            break;
        swap(r, i, child);
        i = child;
    }
}

static wf_status plan_thread(reader *r, size_t i, int64_t first, int64_t n, wf_error *err)
{
    thread_window *w = &r->windows[i];
    const int64_t length = r->stream->threads[i].samples_per_frame;
    w->first_frame = floor_quotient(first, length);
    w->n_frames = floor_quotient(first + n + length - 1, length) - w->first_frame;
    w->n_filled = 0;
    memset(w->present, 0, (size_t)w->n_frames);
    r->found.n = 0;
    WFI_TRY(wfi_vdif_index_find(r->index, i, w->first_frame, w->n_frames, &r->found, err));
    for (size_t k = 0; k < r->found.n; k++)
        WFI_TRY(push(r, (piece){r->found.runs[k], (int32_t)i}, err));
    return WF_OK;
}

static wf_status plan_load(reader *r, int64_t first, int64_t n, wf_error *err)
{
    r->n_pieces = 0;
    r->n_failures = 0;
    r->chunk_bytes = 0;
    r->chunk_refused = false;
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(plan_thread(r, i, first, n, err));
    return WF_OK;
}

/* ----- reading them */

/* How far a chunk that begins at `offset` has something that is wanted. */
static int64_t wanted_end(const reader *r, uint32_t i_file, int64_t offset)
{
    const int64_t limit = offset + (int64_t)r->chunk_capacity;
    int64_t end = offset;
    for (size_t i = 0; i < r->n_pieces; i++) {
        const wfi_run *run = &r->pieces[i].run;
        const int64_t length = r->stream->threads[r->pieces[i].i_thread].pattern.frame_bytes;
        if (run->i_file != i_file || run->offset + length > limit)
            continue;
        int64_t last = run->offset;
        if (run->n > 1) {
            const int64_t fit = (limit - length - run->offset) / run->stride;
            last += (fit < run->n - 1 ? fit : run->n - 1) * run->stride;
        }
        end = last + length > end ? last + length : end;
    }
    return end;
}

/* Read from a frame on; the header after the last frame too. */
static wf_status read_chunk(reader *r, const wfi_run *run, size_t n_bytes, wf_error *err)
{
    bool refused = false;
    r->chunk_file = run->i_file;
    r->chunk_offset = run->offset;
    WFI_TRY(wfi_vdif_read(r->stream, run->i_file, run->offset, r->chunk,
                          n_bytes + WFI_VDIF_HEADER_BYTES, &r->chunk_bytes, &refused, err));
    r->chunk_refused = refused;
    return WF_OK;
}

/* The bytes of the frame at hand; `n` is less than its length where the file has become shorter,
 * and `refused` true where the system does not give them. */
static wf_status fetch(reader *r, const piece *p, const uint8_t **bytes, size_t *n, bool *refused,
                       wf_error *err)
{
    const wfi_run *run = &p->run;
    const size_t length = r->stream->threads[p->i_thread].pattern.frame_bytes;
    const int64_t chunk_end = r->chunk_offset + (int64_t)r->chunk_bytes;
    if (r->chunk_bytes == 0 || run->i_file != r->chunk_file || run->offset < r->chunk_offset ||
        run->offset + (int64_t)length > chunk_end) {
        const int64_t end = wanted_end(r, run->i_file, run->offset);
        WFI_TRY(read_chunk(r, run, (size_t)(end - run->offset), err));
        /* one bad place on a disk must not take its neighbours along */
        if (r->chunk_refused)
            WFI_TRY(read_chunk(r, run, length, err));
        if (r->chunk_refused)
            WFI_TRY(read_chunk(r, run, length - WFI_VDIF_HEADER_BYTES, err));
    }
    *bytes = r->chunk + (run->offset - r->chunk_offset);
    *n = r->chunk_bytes > 0 ? r->chunk_bytes - (size_t)(run->offset - r->chunk_offset) : 0;
    *refused = r->chunk_refused;
    return WF_OK;
}

static wf_status fail_frame(reader *r, const piece *p, wf_fault_kind kind, bool misplaced,
                            wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&r->failures, &r->failures_capacity, r->n_failures + 1,
                              sizeof *r->failures, "the frames of a window", err));
    const piece one = {wfi_run_part(p->run, p->run.k, p->run.k + 1), p->i_thread};
    r->failures[r->n_failures++] = (failure){one, kind, misplaced};
    return WF_OK;
}

/* Samples of a stretch of payload bytes; what it touches only in part counts too. */
static wf_sample_range samples_of(const wfi_vdif_thread *thread, const wfi_convert *convert,
                                  size_t begin, size_t end)
{
    const wf_sample_format *f = &convert->format;
    const int64_t group = (f->is_complex ? 2 : 1) * (int64_t)f->n_channels;
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
    to = to < thread->samples_per_frame ? to : thread->samples_per_frame;
    return (wf_sample_range){from, to > from ? to - from : 0};
}

static wf_status add_filled(reader *r, const piece *p, wf_sample_range range, wf_error *err)
{
    thread_window *w = &r->windows[p->i_thread];
    const int64_t first = p->run.k * r->stream->threads[p->i_thread].samples_per_frame;
    WFI_TRY(wfi_array_reserve(&w->filled, &w->filled_capacity, w->n_filled + 1, sizeof *w->filled,
                              "the fill of a window", err));
    w->filled[w->n_filled++] = (wf_sample_range){first + range.first, range.n};
    return wfi_fault_list_append(&r->faults,
                                 (wfi_fault){.kind = WF_FAULT_FILL,
                                             .i_thread = p->i_thread,
                                             .i_file = p->run.i_file,
                                             .loses_samples = true,
                                             .has_time = true,
                                             .offset_bytes = p->run.offset,
                                             .n_frames = 1,
                                             .first = first + range.first,
                                             .n = range.n},
                                 err);
}

/* A frame that is right: its samples, without what is fill of them. */
static wf_status place_frame(reader *r, const piece *p, const uint8_t *bytes, wf_error *err)
{
    const wfi_vdif_thread *thread = &r->stream->threads[p->i_thread];
    const wfi_convert *convert = &r->converts[p->i_thread];
    thread_window *w = &r->windows[p->i_thread];
    const uint8_t *payload = bytes + thread->header_bytes;
    const size_t place = (size_t)(p->run.k - w->first_frame);
    size_t begin = 0;
    size_t end = 0;
    for (size_t from = 0; wfi_find_fill(payload, thread->payload_bytes, from, &begin, &end);
         from = end) {
        const wf_sample_range range = samples_of(thread, convert, begin, end);
        if (range.n == thread->samples_per_frame)
            return fail_frame(r, p, WF_FAULT_FILL, false, err);
        if (range.n > 0)
            WFI_TRY(add_filled(r, p, range, err));
    }
    wfi_convert_payload(convert, payload, thread->samples_per_frame,
                        w->bytes + place * w->frame_bytes);
    w->present[place] = 1;
    return WF_OK;
}

/* Another frame has to follow, or the end of the file. */
static bool is_followed(const reader *r, const piece *p, const uint8_t *bytes, size_t n)
{
    const size_t length = r->stream->threads[p->i_thread].pattern.frame_bytes;
    enum { WORD_OF_LENGTH = 8 };
    if (n < length + WFI_VDIF_HEADER_BYTES)
        return true; /* the file ends, or what follows cannot be read */
    return wfi_vdif_is_length_word(r->stream, wfi_le32(bytes + length + WORD_OF_LENGTH));
}

static wf_status take_frame(reader *r, const piece *p, wf_error *err)
{
    const uint8_t *bytes = NULL;
    size_t n = 0;
    bool refused = false;
    WFI_TRY(fetch(r, p, &bytes, &n, &refused, err));
    if (refused)
        return fail_frame(r, p, WF_FAULT_READ_ERROR, false, err);
    if (n < r->stream->threads[p->i_thread].pattern.frame_bytes)
        return fail_frame(r, p, WF_FAULT_CHANGED, false, err);
    const wfi_frame frame = wfi_vdif_judge(r->stream, bytes, n);
    if (frame.judgement == WFI_FRAME_INVALID || frame.judgement == WFI_FRAME_FILL)
        return fail_frame(r, p,
                          frame.judgement == WFI_FRAME_FILL ? WF_FAULT_FILL : WF_FAULT_INVALID_FLAG,
                          false, err);
    const bool expected =
        frame.judgement == WFI_FRAME_GOOD && frame.i_thread == p->i_thread && frame.k == p->run.k;
    if (!expected || (!p->run.proven && !is_followed(r, p, bytes, n)))
        return fail_frame(r, p, WF_FAULT_CHANGED, !p->run.proven, err);
    return place_frame(r, p, bytes, err);
}

/* Where a frame stands twice the second may be right where the first is not. */
static wf_status try_other(reader *r, const failure *f, wf_error *err)
{
    piece other = {.i_thread = f->frame.i_thread};
    if (!wfi_vdif_index_find_other(r->index, (size_t)other.i_thread, f->frame.run.k, &other.run))
        return WF_OK;
    const size_t n_before = r->n_failures;
    r->n_pieces = 0;
    r->chunk_bytes = 0;
    WFI_TRY(push(r, other, err));
    WFI_TRY(take_frame(r, &other, err));
    r->n_failures = n_before;
    return WF_OK;
}

static wf_status log_failures(reader *r, wf_error *err)
{
    const size_t n = r->n_failures;
    for (size_t i = 0; i < n; i++) {
        const failure f = r->failures[i];
        const int32_t t = f.frame.i_thread;
        const int64_t length = r->stream->threads[t].samples_per_frame;
        WFI_TRY(try_other(r, &f, err));
        const bool mended = r->windows[t].present[f.frame.run.k - r->windows[t].first_frame] != 0;
        WFI_TRY(wfi_fault_list_append(&r->faults,
                                      (wfi_fault){.kind = f.kind,
                                                  .i_thread = t,
                                                  .i_file = f.frame.run.i_file,
                                                  .loses_samples = !mended,
                                                  .has_time = true,
                                                  .offset_bytes = f.frame.run.offset,
                                                  .n_frames = 1,
                                                  .first = f.frame.run.k * length,
                                                  .n = length},
                                      err));
    }
    return WF_OK;
}

/* Read all pieces; `again`: the index was wrong, and is better now. */
static wf_status read_pieces(reader *r, bool *again, wf_error *err)
{
    *again = false;
    while (r->n_pieces > 0) {
        const piece p = r->pieces[0];
        WFI_TRY(take_frame(r, &p, err));
        advance(r);
    }
    for (size_t i = 0; i < r->n_failures; i++) {
        const wfi_run *run = &r->failures[i].frame.run;
        bool exact = false;
        if (r->failures[i].misplaced)
            WFI_TRY(wfi_vdif_index_refine(r->index, run->i_file, run->offset, &exact, err));
        *again = *again || exact;
    }
    return WF_OK;
}

/* ----- handing them out */

static int compare_ranges(const void *p, const void *q)
{
    const wf_sample_range *a = p;
    const wf_sample_range *b = q;
    return (a->first > b->first) - (a->first < b->first);
}

static wf_status hand_out(reader *r, size_t i_thread, wf_packed *packed, wf_error *err)
{
    const int64_t length = r->stream->threads[i_thread].samples_per_frame;
    thread_window *w = &r->windows[i_thread];
    size_t filled = 0;
    w->invalid.n = 0;
    if (w->n_filled > 1)
        qsort(w->filled, w->n_filled, sizeof *w->filled, compare_ranges);
    for (int64_t i = 0; i < w->n_frames; i++) {
        const int64_t first = (w->first_frame + i) * length;
        if (!w->present[i])
            WFI_TRY(wfi_invalid_runs_append(&w->invalid, first, length, err));
        for (; filled < w->n_filled && w->filled[filled].first < first + length; filled++)
            if (w->present[i])
                WFI_TRY(wfi_invalid_runs_append(&w->invalid, w->filled[filled].first,
                                                w->filled[filled].n, err));
    }
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
    bool again = true;
    while (again) {
        r->faults.n = 0;
        WFI_TRY(plan_load(r, first, n, err));
        WFI_TRY(read_pieces(r, &again, err));
    }
    WFI_TRY(log_failures(r, err));
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(hand_out(r, i, &packed[i], err));
    return wfi_fault_log_take(r->stream->log, &r->faults, err);
}
