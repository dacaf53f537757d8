/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each frame's payload goes where its header says, and nowhere else.
 *
 *  The index tells where the frames of a load stand; they are read in the order of the file, and
 *  each header is held against what was expected. Where an index that was made from a sample turns
 *  out wrong it is made exact there and the load begun anew, so that what a load yields depends on
 *  the files alone.
 */
#include "recording/vdif_reader.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_chunks.h"
#include "recording/vdif_intake.h"
#include "recording/vdif_window.h"

typedef struct reader {
    wfi_vdif_index *index;
    const wfi_vdif_stream *stream;
    wfi_vdif_window *windows; /* [n_threads] */
    wfi_run_list found;
    wfi_chunks chunks;
    wfi_intake intake;
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
    wfi_intake_release(&r->intake);
    wfi_free(r->windows);
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
    r->intake = (wfi_intake){.stream = r->stream, .windows = r->windows};
    return wfi_chunks_create(&r->chunks, r->stream, r->windows, capacity, err);
}

static wf_status plan_thread(reader *r, size_t i, int64_t first, int64_t n, wf_error *err)
{
    wfi_vdif_window *w = &r->windows[i];
    wfi_vdif_window_begin(w, first, n);
    r->found.n = 0;
    WFI_TRY(wfi_vdif_index_find(r->index, i, w->first_frame, w->n_frames, &r->found, err));
    for (size_t k = 0; k < r->found.n; k++)
        WFI_TRY(wfi_chunks_add(&r->chunks,
                               (wfi_piece){.run = r->found.runs[k], .i_thread = (int32_t)i}, err));
    return WF_OK;
}

static wf_status plan_load(reader *r, int64_t first, int64_t n, wf_error *err)
{
    wfi_chunks_clear(&r->chunks);
    wfi_intake_clear(&r->intake);
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(plan_thread(r, i, first, n, err));
    return WF_OK;
}

/* Where a frame stands twice the second may be right where the first is not. */
static wf_status try_other(reader *r, const wfi_failure *f, wf_error *err)
{
    wfi_piece other = {.i_thread = f->frame.i_thread};
    if (!wfi_vdif_index_find_other(r->index, (size_t)other.i_thread, f->frame.run.k, &other.run))
        return WF_OK;
    const size_t n_before = r->intake.n_failures;
    wfi_chunks_clear(&r->chunks);
    WFI_TRY(wfi_chunks_add(&r->chunks, other, err));
    WFI_TRY(wfi_chunks_next(&r->chunks, err));
    WFI_TRY(wfi_intake_take(&r->intake, &r->chunks, err));
    r->intake.n_failures = n_before;
    return WF_OK;
}

static wf_status log_failures(reader *r, wf_error *err)
{
    const size_t n = r->intake.n_failures;
    for (size_t i = 0; i < n; i++) {
        const wfi_failure f = r->intake.failures[i];
        const int32_t t = f.frame.i_thread;
        const int64_t length = r->stream->threads[t].samples_per_frame;
        WFI_TRY(try_other(r, &f, err));
        WFI_TRY(wfi_fault_list_append(
            &r->intake.faults,
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
        WFI_TRY(wfi_intake_take(&r->intake, &r->chunks, err));
    } while (r->chunks.n_ready > 0);
    for (size_t i = 0; i < r->intake.n_failures; i++) {
        const wfi_run *run = &r->intake.failures[i].frame.run;
        bool exact = false;
        if (r->intake.failures[i].misplaced)
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
        WFI_TRY(plan_load(r, first, n, err));
        WFI_TRY(read_frames(r, &again, err));
    }
    WFI_TRY(log_failures(r, err));
    for (size_t i = 0; i < r->stream->n_threads; i++)
        WFI_TRY(wfi_vdif_window_hand_out(&r->windows[i], &packed[i], err));
    return wfi_fault_log_take(r->stream->log, &r->intake.faults, err);
}
