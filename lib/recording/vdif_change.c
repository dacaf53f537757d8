/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_change.h"

#include <inttypes.h>
#include <stdio.h>

#include "base/status.h"
#include "recording/vdif_lock.h"

enum {
    CUT_TEXT_BYTES = 96,
    SEARCH_BYTES = 4 << 20, /* for a frame near a place */
    ATTEMPTS = 64,          /* to find one */
    FRAMES_AROUND = 256,    /* among which one of the thread is looked for */
    NEAR_FRAMES = 64,       /* so close, frames are followed one by one */
};

bool wfi_vdif_same_cut(const wfi_vdif_header *a, const wfi_vdif_header *b)
{
    return wfi_vdif_same_layout(a, b) && a->frame_bytes == b->frame_bytes;
}

typedef struct cuts {
    const wfi_vdif_stream *stream;
    const wfi_vdif_header *earlier;
    const wfi_vdif_header *later;
} cuts;

/* Follow frames from a place to the first valid one of the thread that is cut in either way, or in
 * the later way only; false: none before `end`. */
static wf_status follow(const cuts *c, int64_t offset, bool later_only, const wfi_vdif_sight *end,
                        wfi_vdif_sight *out, bool *found, wf_error *err)
{
    *found = false;
    for (int i = 0; i < FRAMES_AROUND && offset < end->offset; i++) {
        wfi_vdif_header h;
        bool there = false;
        WFI_TRY(wfi_vdif_header_at(c->stream, end->i_file, offset, &h, &there, err));
        if (!there || !wfi_vdif_is_plausible(&h))
            return WF_OK;
        *found =
            !h.invalid && h.thread == c->later->thread &&
            (wfi_vdif_same_cut(&h, c->later) || (!later_only && wfi_vdif_same_cut(&h, c->earlier)));
        *out = (wfi_vdif_sight){h, end->i_file, offset};
        if (*found)
            return WF_OK;
        offset += wfi_vdif_pitch(c->stream, end->i_file, h.frame_bytes);
    }
    return WF_OK;
}

/* As `follow` from a place that need not be a frame's; `end` where there is none. Bytes that come
 * again in every frame may look like headers of long frames: then it is tried behind them. */
static wf_status search(const cuts *c, int64_t from, bool later_only, const wfi_vdif_sight *end,
                        wfi_vdif_sight *out, wf_error *err)
{
    for (int i = 0; i < ATTEMPTS; i++) {
        int64_t offset = -1;
        bool found = false;
        WFI_TRY(wfi_vdif_lock(c->stream, end->i_file, from, SEARCH_BYTES, &offset, err));
        if (offset < 0 || offset >= end->offset)
            break;
        WFI_TRY(follow(c, offset, later_only, end, out, &found, err));
        if (found)
            return WF_OK;
        from = offset + 1;
    }
    *out = *end;
    return WF_OK;
}

/* Halve the way between a frame of the earlier cut and one of the later. */
static wf_status narrow(const cuts *c, int64_t before, wfi_vdif_sight *later, wf_error *err)
{
    wfi_vdif_sight sight;
    const uint32_t shorter = c->later->frame_bytes < c->earlier->frame_bytes
                                 ? c->later->frame_bytes
                                 : c->earlier->frame_bytes;
    while (later->offset - before > NEAR_FRAMES * (int64_t)shorter) {
        const int64_t middle = before + (later->offset - before) / 2;
        WFI_TRY(search(c, middle, false, later, &sight, err));
        if (sight.offset == later->offset)
            before = middle; /* nothing of the thread between */
        else if (wfi_vdif_same_cut(&sight.header, c->later))
            *later = sight;
        else
            before = sight.offset;
    }
    WFI_TRY(search(c, before, true, later, &sight, err));
    *later = sight;
    return WF_OK;
}

static void describe_cut(const wfi_vdif_header *h, char text[CUT_TEXT_BYTES])
{
    snprintf(text, CUT_TEXT_BYTES, "%" PRIu32 " bytes of %u channel%s of %" PRIu32 " bit%s %s",
             h->frame_bytes, 1u << h->log2_channels, h->log2_channels == 0 ? "" : "s", h->bits,
             h->bits == 1 ? "" : "s", h->is_complex ? "complex" : "real");
}

wf_status wfi_vdif_refuse_change(const wfi_vdif_stream *stream, const wfi_vdif_header *earlier,
                                 int64_t before, const wfi_vdif_sight *later, wf_error *err)
{
    wfi_vdif_sight first = *later;
    const cuts c = {stream, earlier, &later->header};
    WFI_TRY(narrow(&c, before, &first, err));
    char time[WF_INSTANT_TEXT_BYTES];
    const wfi_vdif_header *h = &first.header;
    const wf_instant t = {stream->epoch_second[h->epoch] + h->second, 0.0};
    wf_instant_format(time, t, 0);
    char cut[2][CUT_TEXT_BYTES];
    describe_cut(h, cut[0]);
    describe_cut(earlier, cut[1]);
    return wfi_fail(err, WF_UNSUPPORTED,
                    "%s: thread %" PRIu32 " changes: at byte %" PRId64 ", %s UTC, its frames "
                    "have %s, before that %s; split the file where it changes and name the "
                    "parts in recordings of their own",
                    stream->files[first.i_file].input.path, h->thread, first.offset, time, cut[0],
                    cut[1]);
}
