/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_intake.h"

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_expected.h"
#include "recording/vdif_fill.h"

void wfi_intake_release(wfi_intake *intake)
{
    wfi_free(intake->failures);
    wfi_fault_list_release(&intake->faults);
}

void wfi_intake_clear(wfi_intake *intake)
{
    intake->n_failures = 0;
    intake->faults.n = 0;
}

/* Where a piece begins in the chunk. */
static size_t place_of(const wfi_chunks *chunks, const wfi_piece *piece)
{
    return (size_t)(piece->run.offset - chunks->offset);
}

static wfi_piece one_frame(const wfi_piece *piece, int64_t k)
{
    return (wfi_piece){.run = wfi_run_part(piece->run, k, k + 1), .i_thread = piece->i_thread};
}

/* ----- frames that are not as they should be */

static wf_status fail_frame(wfi_intake *in, const wfi_piece *frame, wf_fault_kind kind,
                            bool misplaced, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&in->failures, &in->failures_capacity, in->n_failures + 1,
                              sizeof *in->failures, "the frames of a window", err));
    in->failures[in->n_failures++] = (wfi_failure){*frame, kind, misplaced};
    return WF_OK;
}

/* Frame k of a piece is not right. */
static wf_status refuse_frame(wfi_intake *in, const wfi_chunks *chunks, const wfi_piece *piece,
                              int64_t k, wf_error *err)
{
    const wfi_piece frame = one_frame(piece, k);
    const size_t at = place_of(chunks, &frame);
    const size_t n = chunks->n_bytes > at ? chunks->n_bytes - at : 0;
    if (chunks->refused)
        return fail_frame(in, &frame, WF_FAULT_READ_ERROR, false, err);
    if (n < in->stream->threads[frame.i_thread].pattern.frame_bytes)
        return fail_frame(in, &frame, WF_FAULT_CHANGED, false, err);
    const wfi_judgement judgement = wfi_vdif_judge(in->stream, chunks->bytes + at, n).judgement;
    if (judgement == WFI_FRAME_FILL)
        return fail_frame(in, &frame, WF_FAULT_FILL, false, err);
    if (judgement == WFI_FRAME_INVALID)
        return fail_frame(in, &frame, WF_FAULT_INVALID_FLAG, false, err);
    return fail_frame(in, &frame, WF_FAULT_CHANGED, !frame.run.proven, err);
}

static wf_status add_fill(wfi_intake *in, const wfi_piece *frame, wf_sample_range range,
                          wf_error *err)
{
    range.first += frame->run.k * in->stream->threads[frame->i_thread].samples_per_frame;
    WFI_TRY(wfi_vdif_window_add_fill(&in->windows[frame->i_thread], range, err));
    return wfi_fault_list_append(&in->faults,
                                 (wfi_fault){.kind = WF_FAULT_FILL,
                                             .i_thread = frame->i_thread,
                                             .i_file = frame->run.i_file,
                                             .loses_samples = true,
                                             .has_time = true,
                                             .offset_bytes = frame->run.offset,
                                             .n_frames = 1,
                                             .first = range.first,
                                             .n = range.n},
                                 err);
}

/* The payload of frame k of a piece, which was placed, may hold fill. */
static wf_status take_fill(wfi_intake *in, const wfi_piece *piece, int64_t k,
                           const uint8_t *payload, wf_error *err)
{
    const wfi_piece frame = one_frame(piece, k);
    const wfi_vdif_thread *thread = &in->stream->threads[piece->i_thread];
    wfi_vdif_window *window = &in->windows[piece->i_thread];
    size_t begin = 0;
    size_t end = 0;
    while (wfi_find_fill(payload, thread->payload_bytes, end, &begin, &end)) {
        const wf_sample_range range = wfi_vdif_window_samples(window, begin, end);
        if (range.n == thread->samples_per_frame) {
            wfi_vdif_window_drop(window, k);
            return fail_frame(in, &frame, WF_FAULT_FILL, false, err);
        }
        if (range.n > 0)
            WFI_TRY(add_fill(in, &frame, range, err));
    }
    return WF_OK;
}

/* ----- headers */

/* Frames of a piece that were read now, and whole. */
static int64_t count_whole(const wfi_chunks *chunks, const wfi_piece *piece, int64_t frame_bytes)
{
    const int64_t room = (int64_t)chunks->n_bytes - (int64_t)place_of(chunks, piece) - frame_bytes;
    if (room < 0)
        return 0;
    if (room >= (piece->n_now - 1) * piece->run.stride)
        return piece->n_now;
    return room / piece->run.stride + 1;
}

/* Another frame has to follow, or the end of the file; `bytes` is where its header should begin,
 * n_bytes are known from there. */
static inline bool is_followed(const wfi_vdif_stream *stream, const wfi_vdif_thread *thread,
                               const uint8_t *bytes, int64_t n_bytes)
{
    enum { WORD_OF_LENGTH = 8 };
    if (n_bytes < WFI_VDIF_HEADER_BYTES)
        return true; /* the file ends, or what follows cannot be read */
    const uint32_t word = wfi_le32(bytes + WORD_OF_LENGTH);
    return ((word ^ thread->bits.cut) & WFI_VDIF_LENGTH_MASK) == 0 ||
           wfi_vdif_is_length_word(stream, word);
}

/* ----- frames */

/* Is the frame k of a thread what has to stand in its place? Then expect the one after it. */
static inline bool is_right(const wfi_vdif_stream *stream, const wfi_vdif_thread *thread,
                            wfi_expected *expected, int64_t k, const uint8_t *bytes)
{
    if (wfi_expected_meets(expected, bytes)) {
        wfi_expected_advance(expected);
        return true;
    }
    if (wfi_vdif_is_frame(stream, thread, k, bytes)) {
        wfi_expected_follow(expected, thread, bytes);
        return true;
    }
    *expected = (wfi_expected){0};
    return false;
}

static wf_status take_piece(wfi_intake *in, const wfi_chunks *chunks, const wfi_piece *piece,
                            wf_error *err)
{
    const wfi_vdif_stream *stream = in->stream;
    const wfi_vdif_thread *thread = &stream->threads[piece->i_thread];
    const wfi_vdif_window *window = &in->windows[piece->i_thread];
    const uint32_t length = thread->pattern.frame_bytes;
    const int64_t pitch = wfi_vdif_pitch(stream, piece->run.i_file, length);
    const int64_t end = piece->run.k + piece->n_now;
    const int64_t whole_end = piece->run.k + count_whole(chunks, piece, length);
    const size_t stride = (size_t)piece->run.stride;
    const size_t header_bytes = thread->header_bytes;
    const bool landed = chunks->landed;
    const bool proven = piece->run.proven;
    const uint8_t *const chunk_end = chunks->bytes + chunks->n_bytes;
    const uint8_t *bytes = chunks->bytes + place_of(chunks, piece);
    wfi_expected expected = {0};
    int64_t k = piece->run.k;
    for (; k < whole_end; k++, bytes += stride) {
        const uint8_t *next = bytes + pitch;
        const uint8_t *payload = landed ? wfi_vdif_window_slot(window, k) : bytes + header_bytes;
        if (is_right(stream, thread, &expected, k, bytes) &&
            (proven || is_followed(stream, thread, next, chunk_end - next))) {
            if (wfi_vdif_window_place(window, k, payload))
                WFI_TRY(take_fill(in, piece, k, payload, err));
        } else {
            WFI_TRY(refuse_frame(in, chunks, piece, k, err));
        }
    }
    for (; k < end; k++)
        WFI_TRY(refuse_frame(in, chunks, piece, k, err));
    return WF_OK;
}

wf_status wfi_intake_take(wfi_intake *in, const wfi_chunks *chunks, wf_error *err)
{
    for (size_t i = 0; i < chunks->n_ready; i++)
        WFI_TRY(take_piece(in, chunks, &chunks->pieces[i], err));
    return WF_OK;
}
