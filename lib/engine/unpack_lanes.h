/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Unpacking in vectors: each lane takes the 32 bits that hold its code, shifts it into place and
 * turns it into a level. A vector's worth of samples is a whole number of bytes, so that the places
 * of the first hold for all. Included by one file. */
#ifndef WFI_ENGINE_UNPACK_LANES_H
#define WFI_ENGINE_UNPACK_LANES_H

#include <stdbool.h>

/* How far apart the codes of one vector are. */
typedef enum code_reach {
    IN_A_WORD, /* within the 32 bits from the first byte on */
    IN_A_ROW,  /* within as many bytes as a vector has */
    BEYOND,
} code_reach;

typedef struct code_reader {
    code_reach reach;
    codes place; /* of the 32 bits: words of the row, or bytes */
    codes shift;
    codes mask;
    codes flip;
    lanes zero;
    const float *level;
    size_t step_bytes; /* from one vector to the next */
} code_reader;

static code_reach reach_of(const wfi_unpacker *unpacker, unsigned first_bit)
{
    const uint32_t last_bit = 8 * unpacker->byte[first_bit][LANES - 1] +
                              unpacker->shift[first_bit][LANES - 1] + unpacker->format.bits - 1;
    return last_bit < 32 ? IN_A_WORD : last_bit < 32 * LANES ? IN_A_ROW : BEYOND;
}

static code_reader reader_of(const wfi_unpacker *unpacker, unsigned first_bit)
{
    const unsigned bits = unpacker->format.bits;
    code_reader reader = {
        .reach = reach_of(unpacker, first_bit),
        .place = codes_load(unpacker->byte[first_bit]),
        .shift = codes_load(unpacker->shift[first_bit]),
        .mask = codes_all((UINT32_C(1) << bits) - 1),
        .flip = codes_all(unpacker->flip),
        .zero = lanes_all(unpacker->zero),
        .level = unpacker->level,
        .step_bytes = LANES / unpacker->group * unpacker->sample_bits / 8,
    };
    if (reader.reach == BEYOND)
        return reader;
    const codes bit = codes_add(codes_times_8(reader.place), reader.shift);
    reader.place = codes_divided_by_32(bit);
    reader.shift = codes_and(bit, codes_all(31));
    return reader;
}

static inline codes read_codes(const code_reader *reader, code_reach reach, const uint8_t *bytes)
{
    switch (reach) {
    case IN_A_WORD:
        return codes_all(wfi_le32(bytes));
    case IN_A_ROW:
        return codes_words(codes_load_bytes(bytes), reader->place);
    case BEYOND:
        break;
    }
    return codes_gather(bytes, reader->place);
}

/* One vector; its squares are added to the sum. */
static inline void unpack_vector(const code_reader *reader, code_reach reach, bool four_levels,
                                 const uint8_t *bytes, float *out, lanes *sum)
{
    codes x = codes_shift(read_codes(reader, reach, bytes), reader->shift);
    lanes level;
    if (four_levels) {
        level = codes_level(x, reader->level);
    } else {
        x = codes_xor(codes_and(x, reader->mask), reader->flip);
        level = lanes_subtract(codes_to_float(x), reader->zero);
    }
    lanes_store(out, level);
    *sum = lanes_fma(level, level, *sum);
}

/* n a multiple of LANES. */
static inline double unpack_vectors(const code_reader *asked, code_reach reach, bool four_levels,
                                    const uint8_t *bytes, size_t n, float *out)
{
    enum { RUN = 2048, SUMS = 4 };
    const code_reader reader = *asked;
    double total = 0;
    for (size_t begin = 0; begin < n; begin += RUN) {
        const size_t end = begin + RUN < n ? begin + RUN : n;
        lanes sum[SUMS] = {lanes_all(0.0f), lanes_all(0.0f), lanes_all(0.0f), lanes_all(0.0f)};
        size_t i = begin;
        for (; i + SUMS * LANES <= end; i += SUMS * LANES) {
            for (size_t k = 0; k < SUMS; k++, bytes += reader.step_bytes)
                unpack_vector(&reader, reach, four_levels, bytes, out + i + k * LANES, &sum[k]);
        }
        for (; i < end; i += LANES, bytes += reader.step_bytes)
            unpack_vector(&reader, reach, four_levels, bytes, out + i, &sum[0]);
        total +=
            (double)lanes_total(lanes_add(lanes_add(sum[0], sum[1]), lanes_add(sum[2], sum[3])));
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
    if (reader.reach == IN_A_WORD && bits <= 2)
        total = unpack_vectors(&reader, IN_A_WORD, true, first, n_vectors, out);
    else if (reader.reach == IN_A_ROW && bits <= 2)
        total = unpack_vectors(&reader, IN_A_ROW, true, first, n_vectors, out);
    else if (reader.reach != BEYOND) /* a word lies in a row */
        total = unpack_vectors(&reader, IN_A_ROW, false, first, n_vectors, out);
    else
        total = unpack_vectors(&reader, BEYOND, bits <= 2, first, n_vectors, out);
    if (n_vectors < n)
        total += wfi_unpack_plain(unpacker, bytes, sample + n_vectors / unpacker->group, channel,
                                  n - n_vectors, out + n_vectors);
    return total;
}

#endif
