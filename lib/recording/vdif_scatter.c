/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_scatter.h"

#include "base/memory.h"
#include "base/status.h"

void wfi_scatter_release(wfi_scatter *scatter)
{
    wfi_free(scatter->landings);
    wfi_free(scatter->parts);
}

/* Landings are few and nearly in order already. */
static void insert(wfi_scatter *s, wfi_landing landing)
{
    size_t i = s->n_landings++;
    for (; i > 0 && s->landings[i - 1].frame > landing.frame; i--)
        s->landings[i] = s->landings[i - 1];
    s->landings[i] = landing;
}

static wf_status land_frames(wfi_scatter *s, const wfi_piece *piece, wf_error *err)
{
    const wfi_vdif_window *window = &s->windows[piece->i_thread];
    const wfi_run *run = &piece->run;
    WFI_TRY(wfi_array_reserve(&s->landings, &s->landings_capacity,
                              s->n_landings + (size_t)piece->n_now, sizeof *s->landings,
                              "the frames of a window", err));
    for (int64_t i = 0; i < piece->n_now; i++)
        insert(s, (wfi_landing){.frame = run->offset + i * run->stride,
                                .i_thread = piece->i_thread,
                                .out = wfi_vdif_window_slot(window, run->k + i)});
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

static bool all_land(const wfi_scatter *s, const wfi_piece *pieces, size_t n_pieces)
{
    int64_t n_parts = 1;
    for (size_t i = 0; i < n_pieces; i++) {
        n_parts += 2 * pieces[i].n_now;
        if (!s->windows[pieces[i].i_thread].lands || n_parts > WFI_INPUT_PARTS_MAX)
            return false;
    }
    return true;
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
    *lands = all_land(s, pieces, n_pieces);
    for (size_t i = 0; *lands && i < n_pieces; i++)
        WFI_TRY(land_frames(s, &pieces[i], err));
    *lands = *lands && lie_apart(s, pieces[0].run.i_file);
    if (!*lands)
        s->n_landings = 0;
    WFI_TRY(wfi_array_reserve(&s->parts, &s->parts_capacity, 2 * s->n_landings + 1,
                              sizeof *s->parts, "reading a recording", err));
    lay_parts(s, offset, n_bytes, block);
    return WF_OK;
}
