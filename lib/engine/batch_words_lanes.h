/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The packed samples of batches in vectors: words of 16 two-bit samples, the same of each lane's
 * segment side by side. Included by one file a family, after batch_butterfly_lanes.h. */
#ifndef WFI_ENGINE_BATCH_WORDS_LANES_H
#define WFI_ENGINE_BATCH_WORDS_LANES_H

enum { SAMPLES_OF_A_WORD = 2 * WFI_BATCH_WORD_POINTS, COUNTED_WORDS = 8 };

/* Where every lane's samples begin. */
typedef struct lane_begins {
    codes byte;
    codes shift;
    codes shift_back; /* 32 - shift; a shift by 32 gives 0 */
} lane_begins;

/* Words first to first + LANES - 1 of every lane; words[w] has the w-th of all lanes. The next
 * batch's are fetched meanwhile. */
static inline void read_some_words(const wfi_batch_samples *samples, const lane_begins *begins,
                                   size_t first, uint32_t *words)
{
    const uint8_t *bytes = samples->bytes + first * sizeof(uint32_t);
    codes low[LANES + 1];
    for (size_t s = 0; s < LANES; s++) {
        low[s] = codes_load_bytes(bytes + samples->byte[s]);
        lanes_fetch((const float *)(bytes + samples->byte[s] + samples->to_next));
    }
    low[LANES] = codes_gather(bytes + LANES * sizeof(uint32_t), begins->byte);
    codes_transpose(low);
    for (size_t w = 0; w < LANES; w++)
        codes_store(words + w * LANES, codes_or(codes_shift(low[w], begins->shift),
                                                codes_shift_left(low[w + 1], begins->shift_back)));
}

static inline void read_words(const wfi_batch_samples *samples, size_t n_words, uint32_t *words)
{
    const lane_begins begins = {
        .byte = codes_load(samples->byte),
        .shift = codes_load(samples->shift),
        .shift_back = codes_subtract(codes_all(32), codes_load(samples->shift)),
    };
    for (size_t first = 0; first < n_words; first += LANES)
        read_some_words(samples, &begins, first, words + first * LANES);
}

/* In how many of the 16 samples of a word the two bits are alike, those of the outer levels: eight
 * words' numbers added to the halves of each lane. */
static inline codes count_outer(const uint32_t *words, codes count)
{
    codes fours[2] = {codes_all(0), codes_all(0)};
    for (size_t w = 0; w < COUNTED_WORDS; w++) {
        const codes word = codes_load(words + w * LANES);
        const codes differ = codes_xor(word, codes_shift(word, codes_all(1)));
        const codes outer =
            codes_and(codes_xor(differ, codes_all(UINT32_MAX)), codes_all(0x55555555));
        const codes pairs = codes_add(codes_and(outer, codes_all(0x11111111)),
                                      codes_and(codes_shift_2(outer), codes_all(0x11111111)));
        fours[w / 4] = codes_add(fours[w / 4], pairs);
    }
    codes bytes = codes_all(0);
    for (size_t i = 0; i < 2; i++) {
        bytes = codes_add(bytes, codes_and(fours[i], codes_all(0x0f0f0f0f)));
        bytes = codes_add(bytes, codes_and(codes_shift_4(fours[i]), codes_all(0x0f0f0f0f)));
    }
    count = codes_add(count, codes_and(bytes, codes_all(0x00ff00ff)));
    return codes_add(count, codes_and(codes_shift(bytes, codes_all(8)), codes_all(0x00ff00ff)));
}

/* The sum of squares of all samples; n_words a multiple of 8. */
static double power_of(const uint32_t *words, size_t n_words, const float level[4])
{
    const double n = (double)(LANES * SAMPLES_OF_A_WORD * n_words);
    codes count = codes_all(0);
    for (size_t w = 0; w < n_words; w += COUNTED_WORDS)
        count = count_outer(words + w * LANES, count);
    const codes halves =
        codes_add(codes_and(count, codes_all(0xffff)), codes_shift(count, codes_all(16)));
    const double n_outer = (double)lanes_total(codes_to_float(halves)); /* < 2^24, exact */
    return n_outer * (double)level[3] * (double)level[3] +
           (n - n_outer) * (double)level[2] * (double)level[2];
}

/* Words of the first half of the samples and of the second are put together: `even` words, in the
 * place of the one half, have of each point the even samples of both in four bits, `odd` words, in
 * that of the other, the odd ones. */
static inline void pair_words(uint32_t *words, size_t n_words)
{
    const codes low = codes_all(0x33333333);
    const codes high = codes_all(0xcccccccc);
    uint32_t *first = words;
    uint32_t *second = words + n_words / 2 * LANES;
    for (size_t w = 0; w < n_words / 2; w++, first += LANES, second += LANES) {
        const codes a = codes_load(first);
        const codes b = codes_load(second);
        codes_store(
            first, codes_or(codes_and(a, low), codes_and(codes_shift_left(b, codes_all(2)), high)));
        codes_store(second, codes_or(codes_and(codes_shift_2(a), low), codes_and(b, high)));
    }
}

#endif
