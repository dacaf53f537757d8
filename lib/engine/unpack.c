/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packed samples become numbers.
 *
 * Codes of up to 8 bits are a power of two wide and so never straddle a byte: a table gives all
 * the levels of a byte at once.
 */
#include "engine/unpack.h"

#include <stdbool.h>
#include <string.h>

#include "base/status.h"
#include "recording/levels.h"

enum { BYTE_BITS = 8 };

/* Signed integers are offset binary ones with their first bit flipped. */
static void set_line(wfi_unpacker *unpacker)
{
    const uint32_t half = UINT32_C(1) << (unpacker->format.bits - 1);
    const bool is_signed = unpacker->format.encoding == WF_ENCODING_SIGNED;
    unpacker->flip = is_signed ? half : 0;
    unpacker->zero = is_signed ? (float)half : (float)half - 0.5f;
}

static void set_places(wfi_unpacker *unpacker)
{
    for (unsigned first = 0; first < BYTE_BITS; first++) {
        for (unsigned j = 0; j < WFI_CODE_PLACES; j++) {
            const unsigned bit = first + j / unpacker->group * unpacker->sample_bits +
                                 j % unpacker->group * unpacker->format.bits;
            unpacker->byte[first][j] = bit / BYTE_BITS;
            unpacker->shift[first][j] = bit % BYTE_BITS;
        }
    }
}

wf_status wfi_unpacker_init(wfi_unpacker *unpacker, wf_sample_format format, wf_error *err)
{
    WFI_TRY(wfi_check_levels(format, err));
    memset(unpacker, 0, sizeof *unpacker);
    unpacker->format = format;
    unpacker->group = format.is_complex ? 2 : 1;
    unpacker->sample_bits = format.bits * unpacker->group * format.n_channels;
    set_line(unpacker);
    set_places(unpacker);
    if (format.bits > BYTE_BITS)
        return WF_OK;
    const unsigned n_codes = BYTE_BITS / format.bits;
    const unsigned mask = (1u << format.bits) - 1;
    for (unsigned byte = 0; byte < WFI_CODES_OF_A_BYTE; byte++) {
        for (unsigned k = 0; k < n_codes; k++)
            unpacker->byte_level[byte * n_codes + k] =
                wfi_level_of_code(format, byte >> (k * format.bits) & mask);
    }
    for (unsigned code = 0; code < 4; code++)
        unpacker->level[code] = unpacker->byte_level[code * n_codes];
    return WF_OK;
}

/* n codes that follow one another, from code number `first` of the buffer. */
static void unpack_run(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t first, size_t n,
                       float *out)
{
    const size_t n_codes = BYTE_BITS / unpacker->format.bits;
    const float *table = unpacker->byte_level;
    const uint8_t *byte = bytes + first / n_codes;
    size_t k = (size_t)(first % n_codes);
    size_t i = 0;
    for (; k != 0 && i < n; i++) {
        out[i] = table[*byte * n_codes + k];
        k = (k + 1) % n_codes;
        byte += k == 0;
    }
    for (; i + n_codes <= n; i += n_codes)
        memcpy(out + i, table + *byte++ * n_codes, n_codes * sizeof *out);
    for (k = 0; i < n; i++, k++)
        out[i] = table[*byte * n_codes + k];
}

/* n groups of `group` codes (1, or re and im), one group every `stride` codes. */
static void unpack_strided(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t first,
                           size_t n, size_t group, size_t stride, float *out)
{
    const size_t n_codes = BYTE_BITS / unpacker->format.bits;
    const float *table = unpacker->byte_level;
    for (size_t i = 0; i < n; i++, first += stride) {
        for (size_t k = 0; k < group; k++) {
            const uint64_t code = first + k;
            out[i * group + k] = table[bytes[code / n_codes] * n_codes + code % n_codes];
        }
    }
}

static void unpack_wide(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t first,
                        size_t n, size_t group, size_t stride, float *out)
{
    const size_t code_bytes = unpacker->format.bits / BYTE_BITS;
    const uint8_t *p = bytes + first * code_bytes;
    for (size_t i = 0; i < n; i++, p += stride * code_bytes) {
        for (size_t k = 0; k < group; k++)
            out[i * group + k] = wfi_wide_level(unpacker->format, p + k * code_bytes);
    }
}

/* Sum of squares of at most a few thousand numbers: sixteen float lanes, added up in order. */
static double sum_of_squares_run(const float *x, size_t n)
{
    enum { LANES = 16 };
    float lane[LANES] = {0};
    double sum = 0;
    size_t i = 0;
    for (; i + LANES <= n; i += LANES) {
        for (size_t k = 0; k < LANES; k++)
            lane[k] += x[i + k] * x[i + k];
    }
    for (; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    for (size_t k = 0; k < LANES; k++)
        sum += (double)lane[k];
    return sum;
}

double wfi_sum_of_squares(const float *x, size_t n)
{
    enum { RUN = 2048 };
    double sum = 0;
    for (size_t i = 0; i < n; i += RUN)
        sum += sum_of_squares_run(x + i, n - i < RUN ? n - i : RUN);
    return sum;
}

double wfi_unpack_plain(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t sample,
                        uint32_t channel, size_t n, float *out)
{
    const wf_sample_format *format = &unpacker->format;
    const size_t group = unpacker->group;
    const size_t stride = group * format->n_channels;
    const uint64_t code = sample * stride + channel * group;
    if (format->bits > BYTE_BITS)
        unpack_wide(unpacker, bytes, code, n / group, group, stride, out);
    else if (format->n_channels == 1)
        unpack_run(unpacker, bytes, code, n, out);
    else
        unpack_strided(unpacker, bytes, code, n / group, group, stride, out);
    return wfi_sum_of_squares(out, n);
}
