/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_lock.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

enum {
    BLOCK_BYTES = 1 << 20,
    SHORT_CHAIN = 3,         /* where the file ends with them */
    CHAIN = 5,               /* headers that have to follow one another */
    LONGEST_FRAME = 1 << 20, /* of frames that are found by searching */
    LARGEST_VERSION = 1,     /* of the VDIF versions there are */
    LARGEST_LOG2_CHANNELS = 16,
    LARGEST_STEP_S = 3600,
    LARGEST_FRAME_STEP = 64,
};

bool wfi_vdif_is_plausible(const wfi_vdif_header *h)
{
    return wfi_vdif_header_fault(h) == NULL && h->version <= LARGEST_VERSION &&
           h->log2_channels <= LARGEST_LOG2_CHANNELS;
}

static bool agree(const wfi_vdif_header *a, const wfi_vdif_header *b)
{
    if (a->invalid || b->invalid)
        return a->frame_bytes == b->frame_bytes;
    return a->epoch == b->epoch && a->legacy == b->legacy &&
           llabs((int64_t)a->second - (int64_t)b->second) <= LARGEST_STEP_S;
}

/* Frames with a gap between them are only believed where they are cut alike and go on in time: what
 * stands in the gap is as even as headers are, but stands still. */
static bool goes_on(const wfi_vdif_header *a, const wfi_vdif_header *b)
{
    if (!agree(a, b) || a->invalid || b->invalid || !wfi_vdif_same_layout(a, b))
        return false;
    if (a->second != b->second)
        return b->second == a->second + 1;
    return b->frame >= a->frame && b->frame <= a->frame + LARGEST_FRAME_STEP &&
           (b->frame != a->frame || b->thread != a->thread);
}

static bool follows(const wfi_vdif_header *a, const wfi_vdif_header *b, uint32_t gap)
{
    return wfi_vdif_is_plausible(b) && (gap == 0 ? agree(a, b) : goes_on(a, b));
}

wf_status wfi_vdif_header_at(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                             wfi_vdif_header *out, bool *found, wf_error *err)
{
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    size_t n = 0;
    bool refused = false;
    *found = false;
    if (offset >= stream->files[i_file].input.n_bytes)
        return WF_OK;
    WFI_TRY(wfi_vdif_read(stream, i_file, offset, bytes, sizeof bytes, &n, &refused, err));
    *found = wfi_vdif_header_decode(out, bytes, n);
    return WF_OK;
}

/* Do headers follow `first`, which stands at `offset`, with so many bytes between the frames? */
static wf_status is_chain(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                          wfi_vdif_header first, uint32_t gap, bool *chain, wf_error *err)
{
    const int64_t end = stream->files[i_file].input.n_bytes;
    const bool at_start = offset == 0 && gap == 0;
    int n = 1;
    *chain = false;
    if (offset + first.frame_bytes > end)
        return WF_OK;
    for (wfi_vdif_header last = first; n < CHAIN; n++) {
        wfi_vdif_header next;
        bool found = false;
        offset += last.frame_bytes + (int64_t)gap;
        WFI_TRY(wfi_vdif_header_at(stream, i_file, offset, &next, &found, err));
        if (!found)
            break;
        if (!follows(&last, &next, gap))
            return WF_OK;
        last = next;
    }
    *chain = n >= SHORT_CHAIN || at_start;
    return WF_OK;
}

/* The gap with which frames that are cut alike follow `first`; false: none. */
static bool next_gap(const uint8_t *after, size_t n, const wfi_vdif_header *first, uint32_t *gap)
{
    uint32_t most = WFI_VDIF_LARGEST_GAP;
    if (most >= first->frame_bytes)
        most = first->frame_bytes - 1; /* frames that are skipped are no gap */
    for (; *gap <= most && *gap + WFI_VDIF_LEGACY_HEADER_BYTES <= n; ++*gap) {
        wfi_vdif_header next;
        if (wfi_vdif_header_decode(&next, after + *gap, n - *gap) && follows(first, &next, *gap))
            return true;
    }
    return false;
}

static wf_status find_gap(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                          wfi_vdif_header first, uint32_t *gap, bool *chain, wf_error *err)
{
    uint8_t after[WFI_VDIF_LARGEST_GAP + WFI_VDIF_HEADER_BYTES];
    size_t n = 0;
    bool refused = false;
    *chain = false;
    WFI_TRY(wfi_vdif_read(stream, i_file, offset + first.frame_bytes, after, sizeof after, &n,
                          &refused, err));
    for (*gap = 1; !first.invalid && next_gap(after, n, &first, gap); ++*gap) {
        WFI_TRY(is_chain(stream, i_file, offset, first, *gap, chain, err));
        if (*chain)
            return WF_OK;
    }
    return WF_OK;
}

/* Most places are no header by what stands in words 1 and 2 alone. */
static bool may_begin(const uint8_t *p, int64_t n_left)
{
    const uint32_t length = 8 * ((uint32_t)p[8] | (uint32_t)p[9] << 8 | (uint32_t)p[10] << 16);
    return length > WFI_VDIF_LEGACY_HEADER_BYTES && length <= LONGEST_FRAME && length <= n_left &&
           p[11] >> 5 <= LARGEST_VERSION && (p[11] & 31) <= LARGEST_LOG2_CHANNELS && p[7] >> 6 == 0;
}

/* What is searched for. */
typedef struct lock {
    const wfi_vdif_stream *stream;
    size_t i_file;
    uint32_t gap;
    bool gap_known;
} lock;

static wf_status try_place(lock *l, int64_t offset, const uint8_t *bytes, size_t n, bool *chain,
                           wf_error *err)
{
    wfi_vdif_header header;
    *chain = false;
    if (!wfi_vdif_header_decode(&header, bytes, n) || !wfi_vdif_is_plausible(&header))
        return WF_OK;
    const uint32_t gap = l->gap_known ? l->gap : 0;
    WFI_TRY(is_chain(l->stream, l->i_file, offset, header, gap, chain, err));
    if (*chain || l->gap_known)
        return WF_OK;
    uint32_t found = 0;
    WFI_TRY(find_gap(l->stream, l->i_file, offset, header, &found, chain, err));
    if (*chain)
        l->gap = found;
    return WF_OK;
}

static wf_status search_block(lock *l, int64_t from, const uint8_t *block, size_t n,
                              int64_t *offset, wf_error *err)
{
    const int64_t n_file = l->stream->files[l->i_file].input.n_bytes;
    for (size_t i = 0; i + WFI_VDIF_LEGACY_HEADER_BYTES <= n && i < BLOCK_BYTES; i++) {
        bool chain = false;
        if (may_begin(block + i, n_file - from - (int64_t)i))
            WFI_TRY(try_place(l, from + (int64_t)i, block + i, n - i, &chain, err));
        if (chain) {
            *offset = from + (int64_t)i;
            return WF_OK;
        }
    }
    return WF_OK;
}

/* A block from a place on, and one header more, as far as the file reaches. */
static size_t block_bytes(const lock *l, int64_t at)
{
    const int64_t left = l->stream->files[l->i_file].input.n_bytes - at;
    const int64_t most = BLOCK_BYTES + WFI_VDIF_HEADER_BYTES;
    return left <= 0 ? 0 : (size_t)(left < most ? left : most);
}

static wf_status search(lock *l, int64_t from, int64_t end, uint8_t *block, int64_t *offset,
                        wf_error *err)
{
    for (int64_t at = from; at < end && *offset < 0; at += BLOCK_BYTES) {
        size_t n = 0;
        bool refused = false;
        WFI_TRY(
            wfi_vdif_read(l->stream, l->i_file, at, block, block_bytes(l, at), &n, &refused, err));
        if (n == 0 && !refused)
            break;
        WFI_TRY(search_block(l, at, block, n, offset, err));
    }
    return WF_OK;
}

static wf_status find(lock *l, int64_t from, int64_t n_bytes, int64_t *offset, wf_error *err)
{
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    size_t n = 0;
    bool found = false;
    bool refused = false;
    *offset = -1;
    if (from >= l->stream->files[l->i_file].input.n_bytes)
        return WF_OK;
    /* as a rule the first place is one; there frames of any length are taken */
    WFI_TRY(wfi_vdif_read(l->stream, l->i_file, from, bytes, sizeof bytes, &n, &refused, err));
    WFI_TRY(try_place(l, from, bytes, n, &found, err));
    if (found) {
        *offset = from;
        return WF_OK;
    }
    uint8_t *block = NULL;
    WFI_TRY(wfi_allocate(&block, block_bytes(l, from), 1, "searching for frames", err));
    const wf_status status = search(l, from + 1, from + n_bytes, block, offset, err);
    wfi_free(block);
    return status;
}

wf_status wfi_vdif_lock(const wfi_vdif_stream *stream, size_t i_file, int64_t from, int64_t n_bytes,
                        int64_t *offset, wf_error *err)
{
    lock l = {stream, i_file, stream->files[i_file].gap_bytes, true};
    return find(&l, from, n_bytes, offset, err);
}

wf_status wfi_vdif_lock_first(wfi_vdif_stream *stream, size_t i_file, int64_t *offset,
                              wf_error *err)
{
    lock l = {.stream = stream, .i_file = i_file};
    WFI_TRY(find(&l, 0, WFI_VDIF_LOCK_BYTES, offset, err));
    stream->files[i_file].gap_bytes = *offset >= 0 ? l.gap : 0;
    return WF_OK;
}

/* Frames that are cut alike follow one another from a place on. */
static bool begins_chain(const uint8_t *head, size_t n, size_t at, uint32_t gap)
{
    wfi_vdif_header last;
    if (!wfi_vdif_header_decode(&last, head + at, n - at))
        return false;
    for (int i = 1; i < SHORT_CHAIN; i++) {
        wfi_vdif_header next;
        at += last.frame_bytes + gap;
        if (at >= n || !wfi_vdif_header_decode(&next, head + at, n - at) ||
            !follows(&last, &next, gap))
            return false;
        last = next;
    }
    return true;
}

bool wfi_vdif_has_frames(const uint8_t *head, size_t n)
{
    for (size_t at = 0; at + WFI_VDIF_HEADER_BYTES <= n; at++) {
        wfi_vdif_header first;
        if (!may_begin(head + at, (int64_t)(n - at)) ||
            !wfi_vdif_header_decode(&first, head + at, n - at) || !wfi_vdif_is_plausible(&first))
            continue;
        const uint8_t *after = head + at + first.frame_bytes;
        const size_t left = n - at - first.frame_bytes;
        for (uint32_t gap = 0; next_gap(after, left, &first, &gap); gap++)
            if (begins_chain(head, n, at, gap))
                return true;
    }
    return false;
}
