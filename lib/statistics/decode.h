/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packed samples of one channel become codes and levels: plainly, for looking at them. (The
 * engine's own decoding is laid out for its transforms.) */
#ifndef WFI_STATISTICS_DECODE_H
#define WFI_STATISTICS_DECODE_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>

enum { WFI_CODES_MAX = 256 };

typedef struct wfi_decoder {
    wf_sample_format format;
    size_t n_parts;             /* components of a sample: 1, or 2 for re and im */
    size_t n_codes;             /* 2^bits of up to 8 bits, else 0 */
    float level[WFI_CODES_MAX]; /* [n_codes] */
} wfi_decoder;

/** status  OK | UNSUPPORTED */
wf_status wfi_decoder_init(wfi_decoder *out, wf_sample_format format, wf_error *err);

/** Codes of a channel, lowest state 0; of up to 8 bits only.
 *
 *  returned  codes  [n][n_parts]
 */
void wfi_decode_codes(const wfi_decoder *decoder, const wf_packed *packed, uint32_t channel,
                      int64_t first, size_t n, uint8_t *codes);

/** Levels of a channel: code - 2^(bits-1) + 1/2, but for 2 bits those of recording/levels.h;
 *  signed integers and floats stand for themselves.
 *
 *  given     codes   what wfi_decode_codes gave, of up to 8 bits; NULL else
 *  returned  levels  [n][n_parts]
 */
void wfi_decode_levels(const wfi_decoder *decoder, const wf_packed *packed, uint32_t channel,
                       int64_t first, size_t n, const uint8_t *codes, float *levels);

/** Samples from `first` on, of at most n, that are valid in one run; 0 where the first is not. */
size_t wfi_valid_run(const wf_packed *packed, int64_t first, size_t n);

/** First valid sample at or after `first`; first + n where there is none before it. */
int64_t wfi_next_valid(const wf_packed *packed, int64_t first, size_t n);

#endif
