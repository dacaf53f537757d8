/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Invented VDIF frames for tests of readers, put together from the figures of the specification
 * (release 1.1.1, figure 3) and from nothing of the library. */
#ifndef TESTS_SUPPORT_VDIF_FRAMES_H
#define TESTS_SUPPORT_VDIF_FRAMES_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "support/check.h"

/** The fields of a header, in the words' own terms. */
typedef struct frame_spec {
    uint32_t epoch;
    uint32_t second;
    uint32_t frame;
    uint32_t thread;
    uint32_t bits;
    uint32_t log2_channels;
    uint32_t is_complex;
    uint32_t frame_bytes;
    uint32_t legacy;
    uint32_t invalid;
    uint32_t extended[4];
    uint32_t seed; /* tells payloads of the same place apart */
} frame_spec;

static inline uint32_t frame_header_bytes(const frame_spec *f)
{
    return f->legacy ? 16 : 32;
}

static inline void put_word(uint8_t *p, uint32_t word)
{
    for (int i = 0; i < 4; i++)
        p[i] = (uint8_t)(word >> 8 * i & 0xff);
}

/** A byte of the payload: a hash of where the frame belongs and of the byte's number. */
static inline uint8_t frame_payload_byte(const frame_spec *f, uint32_t i)
{
    uint32_t h = f->second * UINT32_C(2654435761) ^ f->frame * UINT32_C(40503) ^
                 f->thread * UINT32_C(2246822519) ^ i * UINT32_C(3266489917) ^ f->seed;
    h ^= h >> 15;
    h *= UINT32_C(2246822519);
    h ^= h >> 13;
    return (uint8_t)(h & 0xff);
}

/** The whole frame as bytes; `out` holds frame_bytes. */
static inline void frame_bytes_of(const frame_spec *f, uint8_t *out)
{
    put_word(out, f->invalid << 31 | f->legacy << 30 | f->second);
    put_word(out + 4, f->epoch << 24 | f->frame);
    put_word(out + 8, f->log2_channels << 24 | f->frame_bytes / 8);
    put_word(out + 12, f->is_complex << 31 | (f->bits - 1) << 26 | f->thread << 16 | 0x416c);
    for (uint32_t i = 0; i < 4 && !f->legacy; i++)
        put_word(out + 16 + 4 * i, f->extended[i]);
    const uint32_t n = frame_header_bytes(f);
    for (uint32_t i = n; i < f->frame_bytes; i++)
        out[i] = frame_payload_byte(f, i - n);
}

static inline void write_frame(FILE *file, const frame_spec *f)
{
    uint8_t *bytes = malloc(f->frame_bytes);
    assert_non_null(bytes);
    frame_bytes_of(f, bytes);
    assert_int_equal(fwrite(bytes, 1, f->frame_bytes, file), f->frame_bytes);
    free(bytes);
}

#endif
