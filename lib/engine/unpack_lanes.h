/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Unpacking in vectors: for each lane the bytes of its code are picked, shifted into place and
 * turned into a level. A vector's worth of samples is a whole number of bytes, so that the picks
 * and shifts of the first hold for all. Included by one file a family. */
#ifndef WFI_ENGINE_UNPACK_LANES_H
#define WFI_ENGINE_UNPACK_LANES_H

#include <stdbool.h>

typedef struct code_reader {
    codes bytes; /* picks of codes_pick, or offsets of codes_gather */
    codes shift;
    codes mask;
    codes flip;
    lanes zero;
    const float *level;
    bool within_16;    /* the codes of one vector lie within 16 bytes */
    size_t step_bytes; /* from one vector to the next */
} code_reader;

/* The picks of codes_pick from the first bytes of codes: one or two bytes, and zeros. */
static codes picks_of(codes first, bool two_bytes)
{
    const codes zeros = codes_all(0x80808000);
    if (!two_bytes)
        return codes_xor(first, zeros);
    const codes second = codes_add(first, codes_all(1));
    return codes_xor(codes_xor(first, codes_all(0x80800000)), codes_shift_left_8(second));
}

static code_reader reader_of(const wfi_unpacker *unpacker, unsigned first_bit)
{
    const unsigned bits = unpacker->format.bits;
    const codes first = codes_load(unpacker->byte[first_bit]);
    const bool within_16 = unpacker->byte[first_bit][LANES - 1] + (bits + 7) / 8 <= 16;
    return (code_reader){
        .bytes = within_16 ? picks_of(first, bits > 8) : first,
        .shift = codes_load(unpacker->shift[first_bit]),
        .mask = codes_all((UINT32_C(1) << bits) - 1),
        .flip = codes_all(unpacker->flip),
        .zero = lanes_all(unpacker->zero),
        .level = unpacker->level,
        .within_16 = within_16,
        .step_bytes = LANES / unpacker->group * unpacker->sample_bits / 8,
    };
}

static inline lanes codes_to_levels(const code_reader *reader, codes x, bool four_levels)
{
    x = codes_shift(x, reader->shift);
    if (four_levels)
        return codes_level(x, reader->level);
    x = codes_xor(codes_and(x, reader->mask), reader->flip);
    return lanes_subtract(codes_to_float(x), reader->zero);
}

/* n a multiple of LANES. */
static inline double unpack_vectors(const code_reader *reader, const uint8_t *bytes, bool within_16,
                                    bool four_levels, size_t n, float *out)
{
    enum { RUN = 2048 };
    double total = 0;
    for (size_t begin = 0; begin < n; begin += RUN) {
        const size_t end = begin + RUN < n ? begin + RUN : n;
        lanes sum[2] = {lanes_all(0.0f), lanes_all(0.0f)};
        for (size_t i = begin; i < end; i += LANES, bytes += reader->step_bytes) {
            const codes x =
                within_16 ? codes_pick(bytes, reader->bytes) : codes_gather(bytes, reader->bytes);
            const lanes level = codes_to_levels(reader, x, four_levels);
            lanes_store(out + i, level);
            sum[0] = lanes_fma(level, level, sum[0]);
            const lanes other = sum[0];
            sum[0] = sum[1];
            sum[1] = other;
        }
        total += (double)lanes_total(lanes_add(sum[0], sum[1]));
    }
    return total;
}

static double unpack(const wfi_unpacker *unpacker, const uint8_t *bytes, uint64_t sample,
                     uint32_t channel, size_t n, float *out)
{
    const unsigned bits = unpacker->format.bits;
    const size_t n_vectors = n / LANES * LANES;
    if (bits > 16 || n_vectors == 0)
        return wfi_unpack_plain(unpacker, bytes, sample, channel, n, out);
    const uint64_t first_bit = sample * unpacker->sample_bits + channel * unpacker->group * bits;
    const code_reader reader = reader_of(unpacker, (unsigned)(first_bit % 8));
    const uint8_t *first = bytes + first_bit / 8;
    double total = 0;
    if (reader.within_16 && bits <= 2)
        total = unpack_vectors(&reader, first, true, true, n_vectors, out);
    else if (reader.within_16)
        total = unpack_vectors(&reader, first, true, false, n_vectors, out);
    else
        total = unpack_vectors(&reader, first, false, bits <= 2, n_vectors, out);
    if (n_vectors < n)
        total += wfi_unpack_plain(unpacker, bytes, sample + n_vectors / unpacker->group, channel,
                                  n - n_vectors, out + n_vectors);
    return total;
}

#endif
