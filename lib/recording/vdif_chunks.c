/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_chunks.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

/* Read at once; stays in cache until its payloads are copied. */
enum { CHUNK_BYTES = 1 << 18, LINE_BYTES = 64 };

wf_status wfi_chunks_create(wfi_chunks *out, const wfi_vdif_stream *stream, wf_error *err)
{
    int64_t largest = 0;
    uint32_t gap = 0;
    for (size_t i = 0; i < stream->n_files; i++) {
        if (stream->files[i].input.n_bytes > largest)
            largest = stream->files[i].input.n_bytes;
        if (stream->files[i].gap_bytes > gap)
            gap = stream->files[i].gap_bytes;
    }
    *out = (wfi_chunks){.stream = stream};
    out->capacity = largest < CHUNK_BYTES ? (size_t)largest : (size_t)CHUNK_BYTES;
    if (out->capacity < stream->longest_frame)
        out->capacity = stream->longest_frame;
    return wfi_allocate(&out->block, out->capacity + gap + WFI_VDIF_HEADER_BYTES + LINE_BYTES, 1,
                        "reading a recording", err);
}

void wfi_chunks_release(wfi_chunks *chunks)
{
    wfi_free(chunks->pieces);
    wfi_free(chunks->ready);
    wfi_free(chunks->block);
    *chunks = (wfi_chunks){0};
}

void wfi_chunks_clear(wfi_chunks *chunks)
{
    chunks->n_pieces = 0;
    chunks->n_begun = 0;
    chunks->next = 0;
    chunks->n_ready = 0;
}

wf_status wfi_chunks_add(wfi_chunks *chunks, wfi_piece piece, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&chunks->pieces, &chunks->pieces_capacity, chunks->n_pieces + 1,
                              sizeof piece, "the frames of a window", err));
    chunks->pieces[chunks->n_pieces++] = piece;
    return WF_OK;
}

static int compare(const void *p, const void *q)
{
    const wfi_run *a = &((const wfi_piece *)p)->run;
    const wfi_run *b = &((const wfi_piece *)q)->run;
    if (a->i_file != b->i_file)
        return a->i_file < b->i_file ? -1 : 1;
    return (a->offset > b->offset) - (a->offset < b->offset);
}

/* The piece with which the next chunk begins; those under way are of one file, which is not after
 * that of the others. */
static const wfi_piece *first_piece(const wfi_chunks *c)
{
    const wfi_piece *first = c->next < c->n_pieces ? &c->pieces[c->next] : NULL;
    for (size_t i = 0; i < c->n_begun; i++)
        if (first == NULL || compare(&c->pieces[i], first) < 0)
            first = &c->pieces[i];
    return first;
}

static int64_t frame_bytes(const wfi_chunks *c, const wfi_piece *p)
{
    return c->stream->threads[p->i_thread].pattern.frame_bytes;
}

/* Frames of a piece that end by `limit`. */
static int64_t n_within(const wfi_chunks *c, const wfi_piece *p, int64_t limit)
{
    const int64_t room = limit - frame_bytes(c, p) - p->run.offset;
    if (room < 0)
        return 0;
    const bool all = room >= (p->run.n - 1) * p->run.stride;
    return all ? p->run.n : room / p->run.stride + 1;
}

/* Where the last frame ends that is wanted before `limit`. */
static int64_t wanted_end(const wfi_chunks *c, int64_t limit)
{
    int64_t end = 0;
    for (size_t i = 0; i < c->n_begun; i++) {
        const wfi_piece *p = &c->pieces[i];
        const int64_t n = n_within(c, p, limit);
        const int64_t own = p->run.offset + (n - 1) * p->run.stride + frame_bytes(c, p);
        if (n > 0 && own > end)
            end = own;
    }
    return end;
}

/* Take what lies before `end` out of the pieces, into `ready`. */
static wf_status make_ready(wfi_chunks *c, int64_t end, wf_error *err)
{
    size_t kept = 0;
    c->n_ready = 0;
    WFI_TRY(wfi_array_reserve(&c->ready, &c->ready_capacity, c->n_begun, sizeof *c->ready,
                              "the frames of a window", err));
    for (size_t i = 0; i < c->n_begun; i++) {
        wfi_piece p = c->pieces[i];
        const int64_t n = n_within(c, &p, end);
        if (n > 0)
            c->ready[c->n_ready++] =
                (wfi_piece){wfi_run_part(p.run, p.run.k, p.run.k + n), p.i_thread};
        if (n < p.run.n) {
            p.run = wfi_run_part(p.run, p.run.k + n, p.run.k + p.run.n);
            c->pieces[kept++] = p;
        }
    }
    c->n_begun = kept;
    return WF_OK;
}

static wf_status read_bytes(wfi_chunks *c, uint32_t i_file, int64_t n, wf_error *err)
{
    return wfi_vdif_read(c->stream, i_file, c->offset, c->block + c->offset % LINE_BYTES, (size_t)n,
                         &c->n_bytes, &c->refused, err);
}

wf_status wfi_chunks_next(wfi_chunks *c, wf_error *err)
{
    if (c->next == 0 && c->n_pieces > 1)
        qsort(c->pieces, c->n_pieces, sizeof *c->pieces, compare);
    c->n_ready = 0;
    const wfi_piece *first = first_piece(c);
    if (first == NULL)
        return WF_OK;
    const uint32_t i_file = first->run.i_file;
    const int64_t first_end = first->run.offset + frame_bytes(c, first);
    const int64_t limit = first->run.offset + (int64_t)c->capacity;
    c->offset = first->run.offset;
    /* what lies alike in the page cache and here is copied fastest */
    c->bytes = c->block + first->run.offset % LINE_BYTES;
    for (; c->next < c->n_pieces && c->pieces[c->next].run.i_file == i_file &&
           c->pieces[c->next].run.offset < limit;
         c->next++)
        c->pieces[c->n_begun++] = c->pieces[c->next];
    int64_t end = wanted_end(c, limit);
    const int64_t header_after = c->stream->files[i_file].gap_bytes + WFI_VDIF_HEADER_BYTES;
    WFI_TRY(read_bytes(c, i_file, end + header_after - c->offset, err));
    /* one bad place on a disk must not take its neighbours along */
    if (c->refused) {
        end = first_end;
        WFI_TRY(read_bytes(c, i_file, end + header_after - c->offset, err));
    }
    if (c->refused)
        WFI_TRY(read_bytes(c, i_file, end - c->offset, err));
    return make_ready(c, end, err);
}
