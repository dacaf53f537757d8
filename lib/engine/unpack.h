/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packed samples become numbers, in cache, a segment at a time. */
#ifndef WFI_ENGINE_UNPACK_H
#define WFI_ENGINE_UNPACK_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>

enum { WFI_CODES_OF_A_BYTE = 256, WFI_CODES_IN_A_BYTE_MAX = 8 };

/** How the codes of one sample format become levels.
 *
 *  Offset binary: code - 2^(bits-1) + 1/2, but for 2 bits -n, -1, +1, +n with n of
 *  recording/levels.h. Signed integers and floats stand for themselves.
 */
typedef struct wfi_unpacker {
    wf_sample_format format;
    float byte_level[WFI_CODES_OF_A_BYTE * WFI_CODES_IN_A_BYTE_MAX]; /* [byte][code in it] */
} wfi_unpacker;

/** status  OK | UNSUPPORTED: an encoding or width that no reader should hand out */
wf_status wfi_unpacker_init(wfi_unpacker *unpacker, wf_sample_format format, wf_error *err);

/** Decode samples [first, first + n) of some channels.
 *
 *  given     packed    covers the samples
 *            channels  [n_channels] which
 *  returned  planes    [n_channels] each [n] real, or [n][2] re, im of complex samples
 */
void wfi_unpack(const wfi_unpacker *unpacker, const wf_packed *packed, int64_t first, size_t n,
                const uint32_t *channels, size_t n_channels, float *const *planes);

#endif
