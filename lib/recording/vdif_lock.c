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

/* Do headers follow `first`, which stands at `offset`? */
static wf_status is_chain(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                          wfi_vdif_header first, bool *chain, wf_error *err)
{
    const int64_t end = stream->files[i_file].input.n_bytes;
    const bool at_start = offset == 0;
    int n = 1;
    *chain = false;
    if (offset + first.frame_bytes > end)
        return WF_OK;
    for (wfi_vdif_header last = first; n < CHAIN; n++) {
        wfi_vdif_header next;
        bool found = false;
        offset += last.frame_bytes;
        WFI_TRY(wfi_vdif_header_at(stream, i_file, offset, &next, &found, err));
        if (!found)
            break;
        if (!wfi_vdif_is_plausible(&next) || !agree(&last, &next))
            return WF_OK;
        last = next;
    }
    *chain = n >= SHORT_CHAIN || at_start;
    return WF_OK;
}

/* Most places are no header by what stands in words 1 and 2 alone. */
static bool may_begin(const uint8_t *p, int64_t n_left)
{
    const uint32_t length = 8 * ((uint32_t)p[8] | (uint32_t)p[9] << 8 | (uint32_t)p[10] << 16);
    return length > WFI_VDIF_LEGACY_HEADER_BYTES && length <= LONGEST_FRAME && length <= n_left &&
           p[11] >> 5 <= LARGEST_VERSION && (p[11] & 31) <= LARGEST_LOG2_CHANNELS && p[7] >> 6 == 0;
}

static wf_status try_place(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                           const uint8_t *bytes, size_t n, bool *chain, wf_error *err)
{
    wfi_vdif_header header;
    *chain = false;
    if (!wfi_vdif_header_decode(&header, bytes, n) || !wfi_vdif_is_plausible(&header))
        return WF_OK;
    return is_chain(stream, i_file, offset, header, chain, err);
}

static wf_status search_block(const wfi_vdif_stream *stream, size_t i_file, int64_t from,
                              const uint8_t *block, size_t n, int64_t *offset, wf_error *err)
{
    const int64_t n_file = stream->files[i_file].input.n_bytes;
    for (size_t i = 0; i + WFI_VDIF_LEGACY_HEADER_BYTES <= n && i < BLOCK_BYTES; i++) {
        bool chain = false;
        if (may_begin(block + i, n_file - from - (int64_t)i))
            WFI_TRY(try_place(stream, i_file, from + (int64_t)i, block + i, n - i, &chain, err));
        if (chain) {
            *offset = from + (int64_t)i;
            return WF_OK;
        }
    }
    return WF_OK;
}

/* A block from a place on, and one header more, as far as the file reaches. */
static size_t block_bytes(const wfi_vdif_stream *stream, size_t i_file, int64_t at)
{
    const int64_t left = stream->files[i_file].input.n_bytes - at;
    const int64_t most = BLOCK_BYTES + WFI_VDIF_HEADER_BYTES;
    return left <= 0 ? 0 : (size_t)(left < most ? left : most);
}

static wf_status search(const wfi_vdif_stream *stream, size_t i_file, int64_t from, int64_t end,
                        uint8_t *block, int64_t *offset, wf_error *err)
{
    for (int64_t at = from; at < end && *offset < 0; at += BLOCK_BYTES) {
        size_t n = 0;
        bool refused = false;
        WFI_TRY(wfi_vdif_read(stream, i_file, at, block, block_bytes(stream, i_file, at), &n,
                              &refused, err));
        if (n == 0 && !refused)
            break;
        WFI_TRY(search_block(stream, i_file, at, block, n, offset, err));
    }
    return WF_OK;
}

wf_status wfi_vdif_lock(const wfi_vdif_stream *stream, size_t i_file, int64_t from, int64_t n_bytes,
                        int64_t *offset, wf_error *err)
{
    wfi_vdif_header header;
    bool found = false;
    *offset = -1;
    /* as a rule the first place is one; there frames of any length are taken */
    WFI_TRY(wfi_vdif_header_at(stream, i_file, from, &header, &found, err));
    if (found && wfi_vdif_is_plausible(&header))
        WFI_TRY(is_chain(stream, i_file, from, header, &found, err));
    else
        found = false;
    if (found) {
        *offset = from;
        return WF_OK;
    }
    uint8_t *block = NULL;
    WFI_TRY(
        wfi_allocate(&block, block_bytes(stream, i_file, from), 1, "searching for frames", err));
    const wf_status status = search(stream, i_file, from + 1, from + n_bytes, block, offset, err);
    wfi_free(block);
    return status;
}
