/* SPDX-License-Identifier: GPL-3.0-or-later */
/* VDIF as it is read by who believes in it: the fastest readers that a checking one can be held
 * against. They know the cut of the frames and where a recording begins. */
#ifndef BENCH_TRUSTING_READER_H
#define BENCH_TRUSTING_READER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** To be zero but for the cut. */
typedef struct bench_trusting_reader {
    size_t frame; /* bytes */
    size_t n_threads;
    size_t per_load;       /* frames of each thread */
    uint32_t first_second; /* of the recording */
    uint32_t per_second;   /* frames of a thread */
    int fd;
    uint8_t *block;
    uint8_t *chunk;   /* within the block */
    uint8_t *samples; /* [n_threads][per_load][payload] of a load */
    uint8_t *valid;   /* [n_threads][per_load] */
    uint16_t *slots;  /* [1024] place of a thread, by its number in the header */
} bench_trusting_reader;

/** false: no file, or no memory. To be closed, on failure too. */
bool bench_trusting_open(bench_trusting_reader *reader, const char *path);
void bench_trusting_close(bench_trusting_reader *reader);

/** Read load i. Each payload goes where thread, second and number in its header say; what is marked
 *  invalid stays out. Nothing is checked: neither length nor kind, nor whether the place exists.
 *
 *  returns  false: the file ends, or a frame is not valid
 */
bool bench_trusting_load_by_headers(bench_trusting_reader *reader, size_t i);

/** Read load i. Frames are taken to stand in order, threads in turn; headers are not looked at. */
bool bench_trusting_load_by_order(bench_trusting_reader *reader, size_t i);

#endif
