/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packed samples of one channel become codes and levels. */
#include "statistics/decode.h"

#include "base/status.h"
#include "recording/invalid_runs.h"
#include "recording/levels.h"

enum { BYTE_BITS = 8 };

/* Codes of signed samples are shifted to begin with 0. */
static unsigned flip_of(wf_sample_format format)
{
    return format.encoding == WF_ENCODING_SIGNED ? 1u << (format.bits - 1) : 0;
}

wf_status wfi_decoder_init(wfi_decoder *out, wf_sample_format format, wf_error *err)
{
    WFI_TRY(wfi_check_levels(format, err));
    *out = (wfi_decoder){.format = format,
                         .n_parts = format.is_complex ? 2 : 1,
                         .n_codes = format.bits <= BYTE_BITS ? (size_t)1 << format.bits : 0};
    for (unsigned code = 0; code < out->n_codes; code++)
        out->level[code] = wfi_level_of_code(format, code ^ flip_of(format));
    return WF_OK;
}

void wfi_decode_codes(const wfi_decoder *decoder, const wf_packed *packed, uint32_t channel,
                      int64_t first, size_t n, uint8_t *codes)
{
    const size_t parts = decoder->n_parts;
    const unsigned bits = decoder->format.bits;
    const unsigned mask = (1u << bits) - 1;
    const unsigned flip = flip_of(decoder->format);
    const uint64_t stride = (uint64_t)decoder->format.n_channels * parts * bits;
    uint64_t place = (uint64_t)(first - packed->first) * stride + (uint64_t)channel * parts * bits;
    for (size_t i = 0; i < n; i++, place += stride) {
        for (size_t p = 0; p < parts; p++) {
            const uint64_t bit = place + p * bits;
            const unsigned code = packed->bytes[bit / BYTE_BITS] >> bit % BYTE_BITS & mask;
            codes[i * parts + p] = (uint8_t)(code ^ flip);
        }
    }
}

void wfi_decode_levels(const wfi_decoder *decoder, const wf_packed *packed, uint32_t channel,
                       int64_t first, size_t n, const uint8_t *codes, float *levels)
{
    const size_t parts = decoder->n_parts;
    if (decoder->n_codes > 0) {
        for (size_t i = 0; i < n * parts; i++)
            levels[i] = decoder->level[codes[i]];
        return;
    }
    const size_t bytes = decoder->format.bits / BYTE_BITS;
    const size_t stride = decoder->format.n_channels * parts * bytes;
    const uint8_t *at =
        packed->bytes + (size_t)(first - packed->first) * stride + channel * parts * bytes;
    for (size_t i = 0; i < n; i++, at += stride) {
        for (size_t p = 0; p < parts; p++)
            levels[i * parts + p] = wfi_wide_level(decoder->format, at + p * bytes);
    }
}

size_t wfi_valid_run(const wf_packed *packed, int64_t first, size_t n)
{
    const size_t i = wfi_invalid_run_after(packed, first);
    if (i == packed->n_invalid || packed->invalid[i].first >= first + (int64_t)n)
        return n;
    return packed->invalid[i].first > first ? (size_t)(packed->invalid[i].first - first) : 0;
}

int64_t wfi_next_valid(const wf_packed *packed, int64_t first, size_t n)
{
    const int64_t end = first + (int64_t)n;
    const size_t i = wfi_invalid_run_after(packed, first);
    if (i == packed->n_invalid || packed->invalid[i].first > first)
        return first;
    const int64_t next = packed->invalid[i].first + packed->invalid[i].n;
    return next < end ? next : end; /* runs are not adjacent */
}
