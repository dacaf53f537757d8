/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each frame's payload goes where its header says, and nowhere else.
 *
 *  The index tells where the frames of a load stand; they are read in the order of the file, and
 *  each header is held against what was expected. Where an index that was made from a sample turns
 *  out wrong it is made exact there and the load begun anew, so that what a load yields depends on
 *  the files alone.
 */
#include "recording/vdif_reader.h"

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_chunks.h"
#include "recording/vdif_fill.h"
#include "recording/vdif_window.h"

/* A frame that was not as expected. */
typedef struct failure {
    wfi_piece frame; /* one */
    wf_fault_kind kind;
    bool misplaced; /* the index may be wrong there */
} failure;

typedef struct reader {
    wfi_vdif_index *index;
    const wfi_vdif_stream *stream;
    wfi_vdif_window *windows; /* [n_threads] */
    wfi_run_list found;
    wfi_chunks chunks;
    failure *failures; /* [n_failures] */
    size_t n_failures;
    size_t failures_capacity;
    wfi_fault_list faults; /* of the load at hand */
} reader;

void wfi_vdif_reader_destroy(void *p)
{
    reader *r = p;
    if (r == NULL)
        return;
    for (size_t i = 0; r->windows != NULL && i < r->stream->n_threads; i++)
        wfi_vdif_window_release(&r->windows[i]);
    wfi_run_list_release(&r->found);
    wfi_chunks_release(&r->chunks);
    wfi_fault_list_release(&r->faults);
    wfi_free(r->windows);
    wfi_free(r->failures);
    wfi_free(r);
}

wf_status wfi_vdif_reader_create(void **out, wfi_vdif_index *index, const wfi_convert *converts,
                                 int64_t capacity, wf_error *err)
{
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    *out = r;
    r->index = index;
    r->stream = index->stream;
    WFI_TRY(wfi_allocate(&r->windows, r->stream->n_threads, sizeof *r->windows,
                         "the threads of a window", err));
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(wfi_vdif_window_create(&r->windows[i], &r->stream->threads[i], &converts[i],
                                       capacity, err));
    return wfi_chunks_create(&r->chunks, r->stream, err);
}

static wf_status plan_thread(reader *r, size_t i, int64_t first, int64_t n, wf_error *err)
{
    wfi_vdif_window *w = &r->windows[i];
    wfi_vdif_window_begin(w, first, n);
    r->found.n = 0;
    WFI_TRY(wfi_vdif_index_find(r->index, i, w->first_frame, w->n_frames, &r->found, err));
    for (size_t k = 0; k < r->found.n; k++)
        WFI_TRY(wfi_chunks_add(&r->chunks, (wfi_piece){r->found.runs[k], (int32_t)i}, err));
    return WF_OK;
}

static wf_status plan_load(reader *r, int64_t first, int64_t n, wf_error *err)
{
    wfi_chunks_clear(&r->chunks);
    r->n_failures = 0;
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(plan_thread(r, i, first, n, err));
    return WF_OK;
}

static wf_status fail_frame(reader *r, const wfi_piece *p, wf_fault_kind kind, bool misplaced,
                            wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&r->failures, &r->failures_capacity, r->n_failures + 1,
                              sizeof *r->failures, "the frames of a window", err));
    r->failures[r->n_failures++] = (failure){*p, kind, misplaced};
    return WF_OK;
}

/* ----- a frame */

static wf_status add_fill(reader *r, const wfi_piece *p, wf_sample_range range, wf_error *err)
{
    const int64_t first = p->run.k * r->stream->threads[p->i_thread].samples_per_frame;
    range.first += first;
    WFI_TRY(wfi_vdif_window_add_fill(&r->windows[p->i_thread], range, err));
    return wfi_fault_list_append(&r->faults,
                                 (wfi_fault){.kind = WF_FAULT_FILL,
                                             .i_thread = p->i_thread,
                                             .i_file = p->run.i_file,
                                             .loses_samples = true,
                                             .has_time = true,
                                             .offset_bytes = p->run.offset,
                                             .n_frames = 1,
                                             .first = range.first,
                                             .n = range.n},
                                 err);
}

/* A frame that was placed holds fill within [begin, end) of its payload, and maybe behind it. */
static wf_status take_fill(reader *r, const wfi_piece *p, const uint8_t *payload, size_t begin,
                           size_t end, wf_error *err)
{
    const wfi_vdif_thread *thread = &r->stream->threads[p->i_thread];
    wfi_vdif_window *w = &r->windows[p->i_thread];
    do {
        const wf_sample_range range = wfi_vdif_window_samples(w, begin, end);
        if (range.n == thread->samples_per_frame) {
            wfi_vdif_window_drop(w, p->run.k);
            return fail_frame(r, p, WF_FAULT_FILL, false, err);
        }
        if (range.n > 0)
            WFI_TRY(add_fill(r, p, range, err));
    } while (wfi_find_fill(payload, thread->payload_bytes, end, &begin, &end));
    return WF_OK;
}

/* Another frame has to follow, or the end of the file. */
static bool is_followed(const reader *r, const wfi_piece *p, const uint8_t *bytes, size_t n)
{
    enum { WORD_OF_LENGTH = 8 };
    const uint32_t length = r->stream->threads[p->i_thread].pattern.frame_bytes;
    const size_t next = length + r->stream->files[p->run.i_file].gap_bytes;
    if (n < next + WFI_VDIF_HEADER_BYTES)
        return true; /* the file ends, or what follows cannot be read */
    const uint32_t word = wfi_le32(bytes + next + WORD_OF_LENGTH);
    return 8 * (word & WFI_VDIF_LENGTH_MASK) == length || wfi_vdif_is_length_word(r->stream, word);
}

/* What is wrong with a frame that is not the one that was expected. */
static wf_status refuse_frame(reader *r, const wfi_piece *p, const uint8_t *bytes, size_t n,
                              wf_error *err)
{
    if (r->chunks.refused)
        return fail_frame(r, p, WF_FAULT_READ_ERROR, false, err);
    if (n < r->stream->threads[p->i_thread].pattern.frame_bytes)
        return fail_frame(r, p, WF_FAULT_CHANGED, false, err);
    const wfi_frame frame = wfi_vdif_judge(r->stream, bytes, n);
    if (frame.judgement == WFI_FRAME_FILL)
        return fail_frame(r, p, WF_FAULT_FILL, false, err);
    if (frame.judgement == WFI_FRAME_INVALID)
        return fail_frame(r, p, WF_FAULT_INVALID_FLAG, false, err);
    return fail_frame(r, p, WF_FAULT_CHANGED, !p->run.proven, err);
}

static wf_status take_frames(reader *r, const wfi_piece *p, wf_error *err)
{
    const wfi_vdif_thread *thread = &r->stream->threads[p->i_thread];
    wfi_vdif_window *w = &r->windows[p->i_thread];
    for (int64_t k = p->run.k; k < wfi_run_end(&p->run); k++) {
        const size_t at =
            (size_t)(p->run.offset - r->chunks.offset + (k - p->run.k) * p->run.stride);
        const uint8_t *bytes = r->chunks.bytes + at;
        const size_t n = r->chunks.n_bytes > at ? r->chunks.n_bytes - at : 0;
        const uint8_t *payload = bytes + thread->header_bytes;
        size_t begin = 0;
        size_t end = 0;
        if (n < thread->pattern.frame_bytes || !wfi_vdif_is_frame(r->stream, thread, k, bytes) ||
            (!p->run.proven && !is_followed(r, p, bytes, n))) {
            const wfi_piece one = {wfi_run_part(p->run, k, k + 1), p->i_thread};
            WFI_TRY(refuse_frame(r, &one, bytes, n, err));
            continue;
        }
        wfi_vdif_window_place(w, k, payload);
        /* now that they are in the nearest cache */
        if (wfi_find_fill(payload, thread->payload_bytes, 0, &begin, &end)) {
            const wfi_piece one = {wfi_run_part(p->run, k, k + 1), p->i_thread};
            WFI_TRY(take_fill(r, &one, payload, begin, end, err));
        }
    }
    return WF_OK;
}

/* ----- a load */

/* Where a frame stands twice the second may be right where the first is not. */
static wf_status try_other(reader *r, const failure *f, wf_error *err)
{
    wfi_piece other = {.i_thread = f->frame.i_thread};
    if (!wfi_vdif_index_find_other(r->index, (size_t)other.i_thread, f->frame.run.k, &other.run))
        return WF_OK;
    const size_t n_before = r->n_failures;
    wfi_chunks_clear(&r->chunks);
    WFI_TRY(wfi_chunks_add(&r->chunks, other, err));
    WFI_TRY(wfi_chunks_next(&r->chunks, err));
    WFI_TRY(take_frames(r, &other, err));
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
        WFI_TRY(wfi_fault_list_append(
            &r->faults,
            (wfi_fault){.kind = f.kind,
                        .i_thread = t,
                        .i_file = f.frame.run.i_file,
                        .loses_samples = !wfi_vdif_window_has(&r->windows[t], f.frame.run.k),
                        .has_time = true,
                        .offset_bytes = f.frame.run.offset,
                        .n_frames = 1,
                        .first = f.frame.run.k * length,
                        .n = length},
            err));
    }
    return WF_OK;
}

/* Read all that was planned; `again`: the index was wrong, and is better now. */
static wf_status read_frames(reader *r, bool *again, wf_error *err)
{
    *again = false;
    do {
        WFI_TRY(wfi_chunks_next(&r->chunks, err));
        for (size_t i = 0; i < r->chunks.n_ready; i++)
            WFI_TRY(take_frames(r, &r->chunks.ready[i], err));
    } while (r->chunks.n_ready > 0);
    for (size_t i = 0; i < r->n_failures; i++) {
        const wfi_run *run = &r->failures[i].frame.run;
        bool exact = false;
        if (r->failures[i].misplaced)
            WFI_TRY(wfi_vdif_index_refine(r->index, run->i_file, run->offset, &exact, err));
        *again = *again || exact;
    }
    return WF_OK;
}

wf_status wfi_vdif_reader_load(void *p, wf_packed *packed, int64_t first, int64_t n, wf_error *err)
{
    reader *r = p;
    bool again = true;
    while (again) {
        r->faults.n = 0;
        WFI_TRY(plan_load(r, first, n, err));
        WFI_TRY(read_frames(r, &again, err));
    }
    WFI_TRY(log_failures(r, err));
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(wfi_vdif_window_hand_out(&r->windows[i], &packed[i], err));
    return wfi_fault_log_take(r->stream->log, &r->faults, err);
}
