/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_chunks.h"

#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

/* Read at once, or up to twice as much; stays in cache until its payloads are copied. */
enum { CHUNK_BYTES = 1 << 18, LINE_BYTES = 64 };

/* Bytes of the largest load, about. */
static int64_t load_bytes(const wfi_vdif_stream *stream, int64_t capacity, uint32_t gap)
{
    int64_t bytes = 0;
    for (size_t i = 0; i < stream->n_threads; i++) {
        const wfi_vdif_thread *thread = &stream->threads[i];
        bytes += (capacity / thread->samples_per_frame + 2) *
                 ((int64_t)thread->pattern.frame_bytes + gap);
    }
    return bytes;
}

/* A load is cut into even chunks: the system takes as long to begin with a small rest as with a
 * large one. */
static size_t chunk_bytes(const wfi_vdif_stream *stream, int64_t load, int64_t largest_file)
{
    const int64_t n_chunks = load / CHUNK_BYTES;
    int64_t bytes = n_chunks > 0 ? load / n_chunks + stream->longest_frame : CHUNK_BYTES;
    if (bytes > largest_file)
        bytes = largest_file;
    return bytes > stream->longest_frame ? (size_t)bytes : stream->longest_frame;
}

wf_status wfi_chunks_create(wfi_chunks *out, const wfi_vdif_stream *stream,
                            const wfi_vdif_window *windows, int64_t capacity, wf_error *err)
{
    int64_t largest = 0;
    uint32_t gap = 0;
    for (size_t i = 0; i < stream->n_files; i++) {
        if (stream->files[i].input.n_bytes > largest)
            largest = stream->files[i].input.n_bytes;
        if (stream->files[i].gap_bytes > gap)
            gap = stream->files[i].gap_bytes;
    }
    *out = (wfi_chunks){.stream = stream, .scatter = {.stream = stream, .windows = windows}};
    out->capacity = chunk_bytes(stream, load_bytes(stream, capacity, gap), largest);
    return wfi_allocate(&out->block, out->capacity + gap + WFI_VDIF_HEADER_BYTES + LINE_BYTES, 1,
                        "reading a recording", err);
}

void wfi_chunks_release(wfi_chunks *chunks)
{
    wfi_scatter_release(&chunks->scatter);
    wfi_free(chunks->pieces);
    wfi_free(chunks->block);
    *chunks = (wfi_chunks){0};
}

void wfi_chunks_clear(wfi_chunks *chunks)
{
    chunks->n_pieces = 0;
    chunks->in_order = true;
    chunks->n_begun = 0;
    chunks->next = 0;
    chunks->n_ready = 0;
}

static int compare(const void *p, const void *q)
{
    const wfi_run *a = &((const wfi_piece *)p)->run;
    const wfi_run *b = &((const wfi_piece *)q)->run;
    if (a->i_file != b->i_file)
        return a->i_file < b->i_file ? -1 : 1;
    return (a->offset > b->offset) - (a->offset < b->offset);
}

wf_status wfi_chunks_add(wfi_chunks *chunks, wfi_piece piece, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&chunks->pieces, &chunks->pieces_capacity, chunks->n_pieces + 1,
                              sizeof piece, "the frames of a window", err));
    wfi_piece *last = chunks->pieces + chunks->n_pieces;
    chunks->in_order =
        chunks->in_order && (chunks->n_pieces == 0 || compare(last - 1, &piece) <= 0);
    *last = piece;
    chunks->n_pieces++;
    return WF_OK;
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

/* Take into the chunk what of the pieces under way ends by `limit`; returns where the last of it
 * ends. */
static int64_t take_until(wfi_chunks *c, int64_t limit)
{
    int64_t end = c->offset;
    for (size_t i = 0; i < c->n_begun; i++) {
        wfi_piece *p = &c->pieces[i];
        p->n_now = n_within(c, p, limit);
        const int64_t own = p->run.offset + (p->n_now - 1) * p->run.stride + frame_bytes(c, p);
        if (p->n_now > 0 && own > end)
            end = own;
    }
    return end;
}

/* Take what was read out of the pieces under way. */
static void drop_read(wfi_chunks *c)
{
    size_t kept = 0;
    for (size_t i = 0; i < c->n_ready; i++) {
        wfi_piece *p = &c->pieces[i];
        if (p->n_now == p->run.n)
            continue;
        p->run.k += p->n_now;
        p->run.n -= p->n_now;
        p->run.offset += p->n_now * p->run.stride;
        if (kept < i)
            c->pieces[kept] = *p;
        kept++;
    }
    c->n_begun = kept;
    c->n_ready = 0;
}

/* Read from the begin of the chunk to `end`. */
static wf_status read_until(wfi_chunks *c, uint32_t i_file, int64_t end, wf_error *err)
{
    uint8_t *block = c->block + c->offset % LINE_BYTES;
    WFI_TRY(wfi_scatter_plan(&c->scatter, c->pieces, c->n_begun, c->offset,
                             (size_t)(end - c->offset), block, &c->landed, err));
    return wfi_vdif_read_parts(c->stream, i_file, c->offset, c->scatter.parts, c->scatter.n_parts,
                               &c->n_bytes, &c->refused, err);
}

/* Put the pieces under way that begin before `limit`. */
static void begin_pieces(wfi_chunks *c, uint32_t i_file, int64_t limit)
{
    for (; c->next < c->n_pieces && c->pieces[c->next].run.i_file == i_file &&
           c->pieces[c->next].run.offset < limit;
         c->next++, c->n_begun++)
        if (c->n_begun < c->next)
            c->pieces[c->n_begun] = c->pieces[c->next];
}

static void put_in_order(wfi_chunks *c)
{
    if (!c->in_order)
        qsort(c->pieces, c->n_pieces, sizeof *c->pieces, compare);
    c->in_order = true;
}

wf_status wfi_chunks_next(wfi_chunks *c, wf_error *err)
{
    put_in_order(c);
    drop_read(c);
    const wfi_piece *first = first_piece(c);
    if (first == NULL)
        return WF_OK;
    const uint32_t i_file = first->run.i_file;
    const int64_t first_end = first->run.offset + frame_bytes(c, first);
    const int64_t limit = first->run.offset + (int64_t)c->capacity;
    const int64_t header_after = c->stream->files[i_file].gap_bytes + WFI_VDIF_HEADER_BYTES;
    c->offset = first->run.offset;
    /* what lies alike in the page cache and here is copied fastest */
    c->bytes = c->block + c->offset % LINE_BYTES;
    begin_pieces(c, i_file, limit);
    c->n_ready = c->n_begun;
    int64_t end = take_until(c, limit);
    WFI_TRY(read_until(c, i_file, end + header_after, err));
    /* one bad place on a disk must not take its neighbours along */
    if (c->refused) {
        end = take_until(c, first_end);
        WFI_TRY(read_until(c, i_file, end + header_after, err));
    }
    if (c->refused)
        WFI_TRY(read_until(c, i_file, end, err));
    wfi_read_ahead_follow(&c->ahead, &c->stream->files[i_file].input, c->offset, c->n_bytes);
    return WF_OK;
}
