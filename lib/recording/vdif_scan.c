/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_scan.h"

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"

enum {
    BLOCK_BYTES = 1 << 20,
    AHEAD_BYTES = 1 << 16, /* headers of short frames are read several at once */
    SECTOR_BYTES = 512,    /* of a disk */
    SHORT_FRAME = 4096,
    GRID_FRAMES = 64, /* damaged headers in a row that are stepped over by their length */
};

wf_status wfi_scanner_create(wfi_scanner *out, const wfi_vdif_stream *stream, size_t i_file,
                             wf_error *err)
{
    const int64_t n_file = stream->files[i_file].input.n_bytes;
    const size_t n = n_file < BLOCK_BYTES ? (size_t)n_file : (size_t)BLOCK_BYTES;
    *out = (wfi_scanner){.stream = stream, .i_file = i_file};
    return wfi_allocate(&out->block, n + WFI_VDIF_HEADER_BYTES, 1, "looking at headers", err);
}

void wfi_scanner_release(wfi_scanner *scanner)
{
    wfi_free(scanner->block);
    scanner->block = NULL;
}

static int64_t pitch_of(const wfi_scanner *s, const wfi_frame *frame)
{
    return wfi_vdif_pitch(s->stream, s->i_file, frame->length);
}

static int64_t file_end(const wfi_scanner *s)
{
    return s->stream->files[s->i_file].input.n_bytes;
}

/* One bad place on a disk must not take its surroundings along: less is read, down to what is
 * wanted. */
static wf_status read_block(wfi_scanner *s, int64_t offset, size_t wanted, size_t to_read,
                            wf_error *err)
{
    enum { SHRINK = 8 };
    bool refused = true;
    s->block_bytes = 0;
    while (refused) {
        WFI_TRY(wfi_vdif_read(s->stream, s->i_file, offset, s->block, to_read, &s->block_bytes,
                              &refused, err));
        if (to_read <= wanted)
            break;
        to_read = to_read / SHRINK > wanted ? to_read / SHRINK : wanted;
    }
    return WF_OK;
}

/* Bytes from a place on; fewer than wanted only where the file ends or cannot be read. */
static wf_status view(wfi_scanner *s, int64_t offset, size_t wanted, size_t to_read,
                      const uint8_t **bytes, size_t *n, wf_error *err)
{
    const int64_t end = file_end(s);
    *n = 0;
    *bytes = s->block;
    if (offset >= end)
        return WF_OK;
    if (end - offset < (int64_t)wanted)
        wanted = (size_t)(end - offset);
    if (offset < s->block_offset ||
        offset + (int64_t)wanted > s->block_offset + (int64_t)s->block_bytes) {
        if (end - offset < (int64_t)to_read)
            to_read = (size_t)(end - offset);
        WFI_TRY(read_block(s, offset, wanted, to_read, err));
        s->block_offset = offset;
    }
    *bytes = s->block + (offset - s->block_offset);
    *n = s->block_bytes - (size_t)(offset - s->block_offset);
    return WF_OK;
}

wf_status wfi_scanner_judge(wfi_scanner *s, int64_t offset, wfi_frame *out, wf_error *err)
{
    const uint8_t *bytes = NULL;
    size_t n = 0;
    const size_t to_read =
        s->stream->longest_frame < SHORT_FRAME ? AHEAD_BYTES : WFI_VDIF_HEADER_BYTES;
    WFI_TRY(view(s, offset, WFI_VDIF_HEADER_BYTES, to_read, &bytes, &n, err));
    *out = wfi_vdif_judge(s->stream, bytes, n);
    return WF_OK;
}

wf_status wfi_scanner_is_followed(wfi_scanner *s, int64_t offset, uint32_t length, bool *followed,
                                  wf_error *err)
{
    const int64_t next = offset + wfi_vdif_pitch(s->stream, s->i_file, length);
    const bool whole = offset + length <= file_end(s);
    wfi_frame frame;
    *followed = whole && next > file_end(s) - WFI_VDIF_HEADER_BYTES;
    if (*followed || !whole)
        return WF_OK;
    WFI_TRY(wfi_scanner_judge(s, next, &frame, err));
    *followed = frame.judgement != WFI_FRAME_BAD;
    return WF_OK;
}

static wf_status try_place(wfi_scanner *s, int64_t offset, const uint8_t *bytes, size_t n,
                           bool *found, wf_error *err)
{
    const wfi_frame frame = wfi_vdif_judge(s->stream, bytes, n);
    *found = false;
    if (frame.judgement != WFI_FRAME_GOOD)
        return WF_OK;
    return wfi_scanner_is_followed(s, offset, frame.length, found, err);
}

wf_status wfi_scanner_search(wfi_scanner *s, int64_t from, int64_t end, int64_t *offset,
                             wf_error *err)
{
    *offset = -1;
    for (int64_t at = from; at < end;) {
        const uint8_t *bytes = NULL;
        size_t n = 0;
        WFI_TRY(view(s, at, WFI_VDIF_HEADER_BYTES, BLOCK_BYTES, &bytes, &n, err));
        int64_t i = 0;
        const int64_t n_places = (int64_t)n - WFI_VDIF_LEGACY_HEADER_BYTES + 1;
        while (i < n_places && at + i < end &&
               !wfi_vdif_is_length_word(s->stream, wfi_le32(bytes + i + 8)))
            i++;
        if (i < n_places && at + i < end) {
            bool found = false;
            const size_t left = n - (size_t)i;
            if (left < WFI_VDIF_HEADER_BYTES && at + (int64_t)n < file_end(s)) {
                at += i; /* a block that begins with it */
                continue;
            }
            WFI_TRY(try_place(s, at + i, bytes + i, left, &found, err));
            if (found) {
                *offset = at + i;
                return WF_OK;
            }
            at += i + 1;
            continue;
        }
        at += i > 0 ? i : SECTOR_BYTES; /* what cannot be read is stepped over */
    }
    return WF_OK;
}

static wf_status add_bad(wfi_findings *f, wf_fault_kind kind, int64_t offset, int64_t n_bytes,
                         int64_t n_frames, wf_error *err)
{
    const wfi_stander stander = {
        .kind = kind, .i_thread = -1, .offset = offset, .n_bytes = n_bytes, .n_frames = n_frames};
    return n_bytes > 0 ? wfi_findings_add_stander(f, stander, err) : WF_OK;
}

static wf_status add_frame(wfi_findings *f, const wfi_frame *frame, int64_t offset, bool proven,
                           wf_error *err)
{
    if (frame->judgement == WFI_FRAME_GOOD && proven)
        return wfi_findings_add_run(
            f, (size_t)frame->i_thread,
            (wfi_run){.k = frame->k, .n = 1, .offset = offset, .proven = true}, err);
    const wf_fault_kind kind = frame->judgement == WFI_FRAME_GOOD      ? WF_FAULT_UNPROVEN
                               : frame->judgement == WFI_FRAME_INVALID ? WF_FAULT_INVALID_FLAG
                                                                       : WF_FAULT_FILL;
    return wfi_findings_add_stander(f,
                                    (wfi_stander){.kind = kind,
                                                  .i_thread = frame->i_thread,
                                                  .has_k = frame->has_k,
                                                  .k = frame->k,
                                                  .offset = offset,
                                                  .n_bytes = frame->length,
                                                  .n_frames = 1},
                                    err);
}

/* Where frames go on after a place that is no frame: first by whole frames, then byte by byte. */
static wf_status find_next(wfi_scanner *s, int64_t from, int64_t pitch, int64_t end, int64_t *next,
                           wf_error *err)
{
    for (int64_t i = 1; i <= GRID_FRAMES && from + i * pitch < end; i++) {
        wfi_frame frame;
        WFI_TRY(wfi_scanner_judge(s, from + i * pitch, &frame, err));
        if (frame.judgement == WFI_FRAME_GOOD) {
            *next = from + i * pitch;
            return WF_OK;
        }
    }
    /* within the frame too: bytes may have been lost in it */
    WFI_TRY(wfi_scanner_search(s, from - pitch + 1, end, next, err));
    if (*next < 0)
        *next = end;
    return WF_OK;
}

/* A frame at `offset` that no frame follows: is it whole, and where do frames go on? */
static wf_status settle(wfi_scanner *s, const wfi_frame *frame, int64_t offset, int64_t end,
                        wfi_findings *f, int64_t *next, wf_error *err)
{
    const int64_t pitch = pitch_of(s, frame);
    const int64_t after = offset + pitch;
    WFI_TRY(find_next(s, after, pitch, end, next, err));
    const bool frame_there = *next < end || end < file_end(s);
    const bool in_step = frame_there && *next >= after && (*next - after) % pitch == 0;
    WFI_TRY(add_frame(f, frame, offset, in_step, err));
    if (in_step)
        return add_bad(f, WF_FAULT_BAD_HEADER, after, *next - after, (*next - after) / pitch, err);
    return add_bad(f, WF_FAULT_GARBAGE, after, *next - after, 0, err);
}

wf_status wfi_scanner_scan(wfi_scanner *s, int64_t from, int64_t end, wfi_findings *f,
                           wf_error *err)
{
    const int64_t n_file = file_end(s);
    for (int64_t offset = from; offset < end;) {
        wfi_frame frame;
        int64_t next = end;
        WFI_TRY(wfi_scanner_judge(s, offset, &frame, err));
        if (frame.judgement == WFI_FRAME_BAD) {
            WFI_TRY(wfi_scanner_search(s, offset, end, &next, err));
            next = next < 0 ? end : next;
            const bool tail = next == n_file && n_file - offset < WFI_VDIF_HEADER_BYTES;
            if (offset > 0 || next > s->stream->files[s->i_file].gap_bytes)
                WFI_TRY(add_bad(f, tail ? WF_FAULT_TRUNCATED : WF_FAULT_GARBAGE, offset,
                                next - offset, 0, err));
        } else if (offset + frame.length > n_file) {
            WFI_TRY(add_bad(f, WF_FAULT_TRUNCATED, offset, n_file - offset, 1, err));
        } else {
            bool followed = false;
            next = offset + pitch_of(s, &frame);
            WFI_TRY(wfi_scanner_is_followed(s, offset, frame.length, &followed, err));
            if (followed)
                WFI_TRY(add_frame(f, &frame, offset, true, err));
            else
                WFI_TRY(settle(s, &frame, offset, end, f, &next, err));
        }
        offset = next;
    }
    return WF_OK;
}
