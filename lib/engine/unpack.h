/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packed samples become numbers, in cache, a segment at a time. */
#ifndef WFI_ENGINE_UNPACK_H
#define WFI_ENGINE_UNPACK_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>

enum { WFI_CODES_OF_A_BYTE = 256, WFI_CODES_IN_A_BYTE_MAX = 8, WFI_CODE_PLACES = 16 };

/** How the codes of one sample format become levels.
 *
 *  Offset binary: code - 2^(bits-1) + 1/2, but for 2 bits -n, -1, +1, +n with n of
 *  recording/levels.h. Signed integers and floats stand for themselves.
 */
typedef struct wfi_unpacker {
    wf_sample_format format;
    unsigned group;       /* components of a sample: 1, or re and im */
    unsigned sample_bits; /* of a complete sample, all its channels */
    uint32_t flip;        /* level = (float)(code ^ flip) - zero, where it is linear */
    float zero;
    float level[4];                     /* of the codes of at most 2 bits, by the two lowest bits */
    uint32_t byte[8][WFI_CODE_PLACES];  /* [bit that the first code starts at][component] where */
    uint32_t shift[8][WFI_CODE_PLACES]; /* its code starts: byte, and bit of that byte */
    float byte_level[WFI_CODES_OF_A_BYTE * WFI_CODES_IN_A_BYTE_MAX]; /* [byte][code in it] */
} wfi_unpacker;

/** status  OK | UNSUPPORTED: an encoding or width that no reader should hand out */
wf_status wfi_unpacker_init(wfi_unpacker *unpacker, wf_sample_format format, wf_error *err);

/** The plain kernel; see wfi_kernels. */
double wfi_unpack_plain(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t sample,
                        uint32_t channel, size_t n, float *out);

/** Sum of x^2 over n numbers: float in runs of 2048, double between them. */
double wfi_sum_of_squares(const float *x, size_t n);

#endif
