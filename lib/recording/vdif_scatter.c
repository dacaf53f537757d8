/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_scatter.h"

#include "base/memory.h"
#include "base/status.h"

void wfi_scatter_release(wfi_scatter *scatter)
{
    wfi_free(scatter->landings);
    wfi_free(scatter->parts);
}

/* Landings are few, and come nearly in order. */
static void insert(wfi_scatter *s, const wfi_piece *piece, int64_t i)
{
    const int64_t frame = piece->run.offset + i * piece->run.stride;
    const wfi_vdif_window *window = &s->windows[piece->i_thread];
    size_t place = s->n_landings++;
    for (; place > 0 && s->landings[place - 1].frame > frame; place--)
        s->landings[place] = s->landings[place - 1];
    s->landings[place] = (wfi_landing){.frame = frame,
                                       .i_thread = piece->i_thread,
                                       .out = wfi_vdif_window_slot(window, piece->run.k + i)};
}

static int64_t count_frames(const wfi_piece *pieces, size_t n_pieces)
{
    int64_t n = 0;
    for (size_t i = 0; i < n_pieces; i++)
        n += pieces[i].n_now;
    return n;
}

/* The first frame of each piece, then the second of each: so they stand where threads take turns.
 */
static wf_status land_frames(wfi_scatter *s, const wfi_piece *pieces, size_t n_pieces,
                             wf_error *err)
{
    const size_t n_frames = (size_t)count_frames(pieces, n_pieces);
    WFI_TRY(wfi_array_reserve(&s->landings, &s->landings_capacity, n_frames, sizeof *s->landings,
                              "the frames of a window", err));
    for (int64_t i = 0; s->n_landings < n_frames; i++)
        for (size_t p = 0; p < n_pieces; p++)
            if (i < pieces[p].n_now)
                insert(s, &pieces[p], i);
    return WF_OK;
}

/* Each header, and that which should follow each frame, is to be found in the block. */
static bool lie_apart(const wfi_scatter *s, uint32_t i_file)
{
    for (size_t i = 1; i < s->n_landings; i++) {
        const wfi_landing *before = &s->landings[i - 1];
        const uint32_t length = s->stream->threads[before->i_thread].pattern.frame_bytes;
        if (s->landings[i].frame < before->frame + wfi_vdif_pitch(s->stream, i_file, length))
            return false;
    }
    return true;
}

static bool may_land(const wfi_scatter *s, const wfi_piece *pieces, size_t n_pieces)
{
    for (size_t i = 0; i < n_pieces; i++)
        if (!s->windows[pieces[i].i_thread].lands)
            return false;
    return 2 * count_frames(pieces, n_pieces) + 1 <= WFI_INPUT_PARTS_MAX;
}

static void add_part(wfi_scatter *s, uint8_t *to, size_t n)
{
    if (n > 0)
        s->parts[s->n_parts++] = (struct iovec){.iov_base = to, .iov_len = n};
}

static void lay_parts(wfi_scatter *s, int64_t offset, size_t n_bytes, uint8_t *block)
{
    size_t at = 0;
    s->n_parts = 0;
    for (size_t i = 0; i < s->n_landings; i++) {
        const wfi_landing *landing = &s->landings[i];
        const wfi_vdif_thread *thread = &s->stream->threads[landing->i_thread];
        const size_t payload = (size_t)(landing->frame - offset) + thread->header_bytes;
        add_part(s, block + at, payload - at);
        add_part(s, landing->out, thread->payload_bytes);
        at = payload + thread->payload_bytes;
    }
    add_part(s, block + at, n_bytes - at);
}

wf_status wfi_scatter_plan(wfi_scatter *s, const wfi_piece *pieces, size_t n_pieces, int64_t offset,
                           size_t n_bytes, uint8_t *block, bool *lands, wf_error *err)
{
    s->n_landings = 0;
    *lands = may_land(s, pieces, n_pieces);
    if (*lands)
        WFI_TRY(land_frames(s, pieces, n_pieces, err));
    *lands = *lands && lie_apart(s, pieces[0].run.i_file);
    if (!*lands)
        s->n_landings = 0;
    WFI_TRY(wfi_array_reserve(&s->parts, &s->parts_capacity, 2 * s->n_landings + 1,
                              sizeof *s->parts, "reading a recording", err));
    lay_parts(s, offset, n_bytes, block);
    return WF_OK;
}
