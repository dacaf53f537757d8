/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_convert.h"

#include <inttypes.h>
#include <string.h>

#include "base/bytes.h"
#include "base/status.h"

enum { WORD_BITS = 32 };

static bool is_power_of_two(unsigned value)
{
    return (value & (value - 1)) == 0;
}

static unsigned container_bits(unsigned bits)
{
    return bits <= 4 ? 4 : bits <= 8 ? 8 : bits <= 16 ? 16 : 32;
}

/* The sign bit of every code of a 32-bit word. */
static uint32_t sign_bits(unsigned bits)
{
    uint32_t mask = 0;
    for (unsigned at = bits - 1; at < WORD_BITS; at += bits)
        mask |= UINT32_C(1) << at;
    return mask;
}

static uint8_t map_byte(const wf_payload_order *order, unsigned byte)
{
    unsigned b = byte;
    if (order->bits_reversed) {
        b = 0;
        for (unsigned i = 0; i < 8; i++)
            b |= (byte >> i & 1u) << (7 - i);
    }
    if (order->sign_lowest)
        b = (b & 0x55u) << 1 | (b >> 1 & 0x55u);
    return (uint8_t)b;
}

static wf_status check(const wfi_vdif_header *h, wf_payload_order order, const char *what,
                       wf_error *err)
{
    if (!is_power_of_two(h->bits) && h->log2_channels > 0)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: %" PRIu32 " bits a sample in %u channels of one thread; with several "
                        "channels the standard has 1, 2, 4, 8, 16 or 32 bits: record each channel "
                        "in a thread of its own",
                        what, h->bits, 1u << h->log2_channels);
    if (!is_power_of_two(h->bits) && h->is_complex && 2 * h->bits > WORD_BITS)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: complex samples of twice %" PRIu32
                        " bits do not fit the standard's 32-bit words: record with 16 or fewer",
                        what, h->bits);
    if (order.sign_lowest && h->bits != 2)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: sign_bit: lowest is for samples of 2 bits, these have %" PRIu32
                        ": remove the key",
                        what, h->bits);
    return WF_OK;
}

wf_status wfi_convert_init(wfi_convert *out, const wfi_vdif_header *pattern, wf_payload_order order,
                           const char *what, wf_error *err)
{
    WFI_TRY(check(pattern, order, what, err));
    const unsigned bits = pattern->bits;
    const bool signed_codes = order.codes == WF_CODES_TWOS_COMPLEMENT;
    *out = (wfi_convert){.order = order, .bits = bits};
    out->format = (wf_sample_format){.encoding = WF_ENCODING_OFFSET_BINARY,
                                     .bits = bits,
                                     .is_complex = pattern->is_complex,
                                     .n_channels = UINT32_C(1) << pattern->log2_channels};
    out->repack = !is_power_of_two(bits);
    if (out->repack) {
        out->format.bits = container_bits(bits);
        out->format.sampler_bits = bits;
    }
    out->codes_a_word =
        WORD_BITS / (bits * (pattern->is_complex ? 2 : 1)) * (pattern->is_complex ? 2 : 1);
    /* two's complement of 8, 16 and 32 bits is known to everybody as it is */
    if (!out->repack && (bits == 32 || (signed_codes && bits >= 8)))
        out->format.encoding = WF_ENCODING_SIGNED;
    else if (out->format.bits == 32)
        out->format.encoding = WF_ENCODING_SIGNED;
    if (!out->repack && signed_codes != (out->format.encoding == WF_ENCODING_SIGNED))
        out->flip = sign_bits(bits);
    out->uses_map = order.bits_reversed || order.sign_lowest;
    for (unsigned b = 0; b < 256; b++)
        out->byte_map[b] = map_byte(&order, b);
    out->plain =
        !out->repack && !out->uses_map && out->flip == 0 && order.bytes == WF_BYTES_IN_ORDER;
    return WF_OK;
}

size_t wfi_convert_bytes(const wfi_convert *convert, int64_t n)
{
    const wf_sample_format *f = &convert->format;
    return (size_t)((uint64_t)n * f->bits * (f->is_complex ? 2 : 1) * f->n_channels / 8);
}

/* Payloads are whole multiples of 8 bytes: every swap stays inside. */
static uint8_t ordered_byte(const wfi_convert *c, const uint8_t *payload, size_t i)
{
    static const size_t last[] = {0, 1, 3, 7};
    const uint8_t byte = payload[i ^ last[c->order.bytes]];
    return c->uses_map ? c->byte_map[byte] : byte;
}

static uint32_t ordered_word(const wfi_convert *c, const uint8_t *payload, size_t i_word)
{
    if (c->order.bytes == WF_BYTES_IN_ORDER && !c->uses_map)
        return wfi_le32(payload + 4 * i_word);
    uint32_t word = 0;
    for (size_t i = 0; i < 4; i++)
        word |= (uint32_t)ordered_byte(c, payload, 4 * i_word + i) << 8 * i;
    return word;
}

/* A code as offset binary of the container, or as a signed number of 32 bits: the same level. */
static uint32_t moved(const wfi_convert *c, uint32_t code)
{
    const uint32_t sign = UINT32_C(1) << (c->bits - 1);
    const uint32_t offset = c->order.codes == WF_CODES_TWOS_COMPLEMENT ? code ^ sign : code;
    if (c->format.encoding == WF_ENCODING_SIGNED)
        return offset - sign;
    return offset + (UINT32_C(1) << (c->format.bits - 1)) - sign;
}

static void put_code(uint8_t *out, int64_t i, unsigned bits, uint32_t code)
{
    if (bits == 4) {
        if (i % 2 == 0)
            out[i / 2] = (uint8_t)code;
        else
            out[i / 2] = (uint8_t)(out[i / 2] | code << 4);
        return;
    }
    for (unsigned b = 0; b < bits / 8; b++)
        out[i * (bits / 8) + b] = (uint8_t)(code >> 8 * b & 0xff);
}

static void repack(const wfi_convert *c, const uint8_t *payload, int64_t n_codes, uint8_t *out)
{
    const uint32_t mask = (UINT32_C(1) << c->bits) - 1;
    int64_t i = 0;
    for (size_t w = 0; i < n_codes; w++) {
        const uint32_t word = ordered_word(c, payload, w);
        for (unsigned k = 0; k < c->codes_a_word && i < n_codes; k++, i++)
            put_code(out, i, c->format.bits, moved(c, word >> k * c->bits & mask));
    }
}

static void reorder(const wfi_convert *c, const uint8_t *payload, size_t n_bytes, uint8_t *out)
{
    size_t i = 0;
    for (; i + 4 <= n_bytes; i += 4)
        wfi_put_le32(out + i, ordered_word(c, payload, i / 4) ^ c->flip);
    for (; i < n_bytes; i++)
        out[i] = (uint8_t)(ordered_byte(c, payload, i) ^ (c->flip >> 8 * (i % 4) & 0xff));
}

void wfi_convert_payload(const wfi_convert *convert, const uint8_t *payload, int64_t n_samples,
                         uint8_t *out)
{
    const size_t n_bytes = wfi_convert_bytes(convert, n_samples);
    if (convert->plain)
        memcpy(out, payload, n_bytes);
    else if (convert->repack)
        repack(convert, payload, n_samples * (convert->format.is_complex ? 2 : 1), out);
    else
        reorder(convert, payload, n_bytes, out);
}
