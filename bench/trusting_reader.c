/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "trusting_reader.h"

#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/bytes.h"

enum {
    HEADER = 32,
    LINE_BYTES = 64,
    N_THREAD_NUMBERS = 1024,
    CHUNK_BYTES = 1 << 18, /* read at once: the fastest of its kind */
};

static size_t rounded(size_t bytes)
{
    return (bytes + LINE_BYTES - 1) / LINE_BYTES * LINE_BYTES;
}

bool bench_trusting_open(bench_trusting_reader *r, const char *path)
{
    const size_t n_frames = r->per_load * r->n_threads;
    r->fd = open(path, O_RDONLY);
    r->block = aligned_alloc(LINE_BYTES, CHUNK_BYTES + LINE_BYTES);
    r->samples = aligned_alloc(LINE_BYTES, rounded(n_frames * (r->frame - HEADER)));
    r->valid = aligned_alloc(LINE_BYTES, rounded(n_frames));
    r->slots = calloc(N_THREAD_NUMBERS, sizeof *r->slots);
    for (size_t t = 0; r->slots != NULL && t < r->n_threads; t++)
        r->slots[t] = (uint16_t)t;
    return r->fd >= 0 && r->block != NULL && r->samples != NULL && r->valid != NULL &&
           r->slots != NULL;
}

void bench_trusting_close(bench_trusting_reader *r)
{
    free(r->block);
    free(r->samples);
    free(r->valid);
    free(r->slots);
    if (r->fd >= 0)
        close(r->fd);
}

/* The next frames of a load, from its frame k on; 0: the file ends. */
static size_t read_chunk(bench_trusting_reader *r, size_t i, size_t k)
{
    const size_t n_frames = r->per_load * r->n_threads;
    const size_t per_chunk = CHUNK_BYTES / r->frame;
    const size_t n = n_frames - k < per_chunk ? n_frames - k : per_chunk;
    const size_t at = (i * n_frames + k) * r->frame;
    r->chunk = r->block + at % LINE_BYTES; /* alike in the page cache and here: copied fastest */
    return pread(r->fd, r->chunk, n * r->frame, (off_t)at) == (ssize_t)(n * r->frame) ? n : 0;
}

static void place_by_header(bench_trusting_reader *r, const uint8_t *frame, int64_t first)
{
    enum { SECOND = 0x3fffffff, NUMBER = 0xffffff, THREAD = N_THREAD_NUMBERS - 1 };
    const size_t payload = r->frame - HEADER;
    const uint32_t word = wfi_le32(frame);
    const int64_t k = (int64_t)((word & SECOND) - r->first_second) * r->per_second +
                      (wfi_le32(frame + 4) & NUMBER) - first;
    const size_t slot = r->slots[wfi_le32(frame + 12) >> 16 & THREAD];
    const size_t place = slot * r->per_load + (size_t)k;
    if (word >> 31 != 0)
        return;
    memcpy(r->samples + place * payload, frame + HEADER, payload);
    r->valid[place] = 1;
}

bool bench_trusting_load_by_headers(bench_trusting_reader *r, size_t i)
{
    const size_t n_frames = r->per_load * r->n_threads;
    const int64_t first = (int64_t)(i * r->per_load);
    memset(r->valid, 0, n_frames);
    for (size_t k = 0; k < n_frames;) {
        const size_t n = read_chunk(r, i, k);
        if (n == 0)
            return false;
        for (size_t f = 0; f < n; f++)
            place_by_header(r, r->chunk + f * r->frame, first);
        k += n;
    }
    return memchr(r->valid, 0, n_frames) == NULL;
}

bool bench_trusting_load_by_order(bench_trusting_reader *r, size_t i)
{
    const size_t payload = r->frame - HEADER;
    const size_t n_frames = r->per_load * r->n_threads;
    for (size_t k = 0; k < n_frames;) {
        const size_t n = read_chunk(r, i, k);
        if (n == 0)
            return false;
        size_t thread = k % r->n_threads;
        size_t cycle = k / r->n_threads;
        for (size_t f = 0; f < n; f++) {
            memcpy(r->samples + (thread * r->per_load + cycle) * payload,
                   r->chunk + f * r->frame + HEADER, payload);
            if (++thread == r->n_threads) {
                thread = 0;
                cycle++;
            }
        }
        k += n;
    }
    return true;
}
