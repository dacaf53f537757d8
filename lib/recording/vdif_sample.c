/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_sample.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_scan.h"

enum {
    HEADERS_LOOKED_AT = 1 << 12, /* in a file, about: seconds of a disk that seeks */
    LOOKS_LEAST = 64,
    SMALL_FRAMES = 96, /* so few are looked at one by one */
    LOOKS_AHEAD = 32,  /* so many are under way: disks serve many at once sooner than one by one */
};

/* A frame of a cycle, against the cycle's first. */
typedef struct cycle_frame {
    int32_t i_thread;
    int64_t k;
    int64_t offset;
} cycle_frame;

/* One turn through the threads, from one frame of a thread to its next. */
typedef struct look {
    int64_t offset;
    int64_t k;
    int64_t cycle_bytes;
    bool regular;
    cycle_frame *frames; /* [n_frames] */
    size_t n_frames;
} look;

typedef struct sampler {
    wfi_scanner scanner;
    wfi_findings *findings;
    wfi_interval_list *intervals;
    int32_t first_thread; /* looks begin with it */
} sampler;

static wf_status take_look(sampler *s, int64_t offset, look *out, wf_error *err)
{
    const size_t n_threads = s->scanner.stream->n_threads;
    *out = (look){.offset = offset};
    WFI_TRY(wfi_allocate(&out->frames, n_threads, sizeof *out->frames, "looking at headers", err));
    for (int64_t at = offset; out->n_frames <= n_threads; out->n_frames++) {
        wfi_frame frame;
        WFI_TRY(wfi_scanner_judge(&s->scanner, at, &frame, err));
        if (frame.judgement != WFI_FRAME_GOOD)
            return WF_OK;
        if (out->n_frames == 0)
            out->k = frame.k;
        if (out->n_frames > 0 && frame.i_thread == out->frames[0].i_thread) {
            out->cycle_bytes = at - offset;
            out->regular = frame.k == out->k + 1;
            return WF_OK;
        }
        if (out->n_frames == n_threads)
            return WF_OK;
        out->frames[out->n_frames] = (cycle_frame){frame.i_thread, frame.k - out->k, at - offset};
        at += wfi_vdif_pitch(s->scanner.stream, s->scanner.i_file, frame.length);
    }
    return WF_OK;
}

/* Step on to the frame with which looks begin. */
static wf_status align(sampler *s, int64_t *offset, wf_error *err)
{
    int64_t at = *offset;
    for (size_t i = 0; i < 2 * s->scanner.stream->n_threads; i++) {
        wfi_frame frame;
        WFI_TRY(wfi_scanner_judge(&s->scanner, at, &frame, err));
        if (frame.judgement == WFI_FRAME_BAD)
            return WF_OK;
        if (frame.judgement == WFI_FRAME_GOOD && frame.i_thread == s->first_thread) {
            *offset = at;
            return WF_OK;
        }
        at += wfi_vdif_pitch(s->scanner.stream, s->scanner.i_file, frame.length);
    }
    return WF_OK;
}

/* A look near a place, before `end`; `out->frames` is NULL where there is none. `after` tells
 * where cycles stand. */
static wf_status look_near(sampler *s, const look *after, int64_t near, int64_t end, look *out,
                           wf_error *err)
{
    *out = (look){0};
    if (after->regular)
        near = after->offset + (near - after->offset) / after->cycle_bytes * after->cycle_bytes;
    wfi_frame frame;
    int64_t offset = near;
    WFI_TRY(wfi_scanner_judge(&s->scanner, near, &frame, err));
    if (frame.judgement != WFI_FRAME_GOOD)
        WFI_TRY(wfi_scanner_search(&s->scanner, near, end, &offset, err));
    if (offset < 0)
        return WF_OK;
    WFI_TRY(align(s, &offset, err));
    return offset < end ? take_look(s, offset, out, err) : WF_OK;
}

static bool is_even(const look *a, const look *b)
{
    if (!a->regular || !b->regular || a->n_frames != b->n_frames ||
        a->cycle_bytes != b->cycle_bytes || b->k <= a->k ||
        b->offset - a->offset != (b->k - a->k) * a->cycle_bytes)
        return false;
    for (size_t i = 0; i < a->n_frames; i++)
        if (a->frames[i].i_thread != b->frames[i].i_thread || a->frames[i].k != b->frames[i].k ||
            a->frames[i].offset != b->frames[i].offset)
            return false;
    return true;
}

static wf_status take_even(sampler *s, const look *a, const look *b, wf_error *err)
{
    for (size_t i = 0; i < a->n_frames; i++) {
        const wfi_run run = {.k = a->k + a->frames[i].k,
                             .n = b->k - a->k,
                             .offset = a->offset + a->frames[i].offset,
                             .stride = a->cycle_bytes};
        WFI_TRY(wfi_findings_add_run(s->findings, (size_t)a->frames[i].i_thread, run, err));
    }
    wfi_interval_list *list = s->intervals;
    WFI_TRY(wfi_array_reserve(&list->intervals, &list->capacity, list->n + 1,
                              sizeof *list->intervals, "the index of a recording", err));
    list->intervals[list->n++] = (wfi_interval){a->offset, b->offset, NULL};
    return WF_OK;
}

static wf_status go_between(sampler *s, const look *a, const look *b, wf_error *err)
{
    if (is_even(a, b))
        return take_even(s, a, b, err);
    const int64_t n_bytes = b->offset - a->offset;
    if (n_bytes <= SMALL_FRAMES * (int64_t)s->scanner.stream->longest_frame)
        return wfi_scanner_scan(&s->scanner, a->offset, b->offset, s->findings, err);
    look middle;
    wf_status status = look_near(s, a, a->offset + n_bytes / 2, b->offset, &middle, err);
    if (status == WF_OK && (middle.frames == NULL || middle.offset <= a->offset))
        status = wfi_scanner_scan(&s->scanner, a->offset, b->offset, s->findings, err);
    else if (status == WF_OK) {
        status = go_between(s, a, &middle, err);
        if (status == WF_OK)
            status = go_between(s, &middle, b, err);
    }
    wfi_free(middle.frames);
    return status;
}

/* Ask for the headers of the n-th look from here, which are to be found as in this one. */
static void look_ahead(const sampler *s, const look *from, int64_t step, int64_t n)
{
    const wfi_input_file *file = &s->scanner.stream->files[s->scanner.i_file].input;
    const int64_t even_step = from->regular ? step - step % from->cycle_bytes : step;
    const int64_t at = from->offset + n * even_step;
    if (at >= file->n_bytes)
        return;
    for (size_t i = 0; i < from->n_frames; i++)
        wfi_input_file_will_need(file, at + from->frames[i].offset, WFI_VDIF_HEADER_BYTES);
    wfi_input_file_will_need(file, at + from->cycle_bytes, WFI_VDIF_HEADER_BYTES);
}

/* From look to look to the last, then frame by frame to the end. */
static wf_status go_through(sampler *s, int64_t first, int64_t end, wf_error *err)
{
    const wfi_vdif_stream *stream = s->scanner.stream;
    int64_t n_looks = HEADERS_LOOKED_AT / ((int64_t)stream->n_threads + 1);
    n_looks = n_looks > LOOKS_LEAST ? n_looks : LOOKS_LEAST;
    const int64_t least = SMALL_FRAMES * (int64_t)stream->longest_frame;
    const int64_t step = (end - first) / n_looks > least ? (end - first) / n_looks : least;
    look last;
    wf_status status = take_look(s, first, &last, err);
    for (int64_t i = 1; i < LOOKS_AHEAD && status == WF_OK; i++)
        look_ahead(s, &last, step, i);
    while (status == WF_OK && last.offset + step < end) {
        look next;
        look_ahead(s, &last, step, LOOKS_AHEAD);
        status = look_near(s, &last, last.offset + step, end, &next, err);
        if (status == WF_OK && next.frames != NULL && next.offset > last.offset)
            status = go_between(s, &last, &next, err);
        if (next.frames == NULL || status != WF_OK) {
            wfi_free(next.frames);
            break;
        }
        wfi_free(last.frames);
        last = next;
    }
    if (status == WF_OK)
        status = wfi_scanner_scan(&s->scanner, last.offset, end, s->findings, err);
    wfi_free(last.frames);
    return status;
}

static wf_status sample(sampler *s, bool exact, wf_error *err)
{
    const int64_t end = s->scanner.stream->files[s->scanner.i_file].input.n_bytes;
    if (exact)
        return wfi_scanner_scan(&s->scanner, 0, end, s->findings, err);
    int64_t first = -1;
    WFI_TRY(wfi_scanner_search(&s->scanner, 0, end, &first, err));
    WFI_TRY(wfi_scanner_scan(&s->scanner, 0, first < 0 ? end : first, s->findings, err));
    if (first < 0)
        return WF_OK;
    wfi_frame frame;
    WFI_TRY(wfi_scanner_judge(&s->scanner, first, &frame, err));
    s->first_thread = frame.i_thread;
    return go_through(s, first, end, err);
}

wf_status wfi_vdif_sample(const wfi_vdif_stream *stream, size_t i_file, bool exact,
                          wfi_findings *findings, wfi_interval_list *intervals, wf_error *err)
{
    sampler s = {.findings = findings, .intervals = intervals};
    wf_status status = wfi_scanner_create(&s.scanner, stream, i_file, err);
    if (status == WF_OK)
        status = sample(&s, exact, err);
    wfi_scanner_release(&s.scanner);
    return status;
}
