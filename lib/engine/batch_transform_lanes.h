/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Transforms of batches in vectors: decode and first stage, then the other stages. Included by one
 * file a family, after channel_lanes.h.
 *
 * A point of the work space is the real parts of all lanes, then the imaginary ones.
 */
#ifndef WFI_ENGINE_BATCH_TRANSFORM_LANES_H
#define WFI_ENGINE_BATCH_TRANSFORM_LANES_H

enum { POINT_FLOATS = 2 * LANES };

/* Inner loops come in variants, each with its own constants. */
#define ALWAYS_INLINE inline __attribute__((always_inline))

static inline vector load_point(const float *work, size_t place)
{
    const float *at = work + place * POINT_FLOATS;
    return (vector){lanes_load(at), lanes_load(at + LANES)};
}

static inline void store_point(float *work, size_t place, vector x)
{
    float *at = work + place * POINT_FLOATS;
    lanes_store(at, x.re);
    lanes_store(at + LANES, x.im);
}

static inline vector sum_of(vector a, vector b)
{
    return (vector){lanes_add(a.re, b.re), lanes_add(a.im, b.im)};
}

static inline vector difference_of(vector a, vector b)
{
    return (vector){lanes_subtract(a.re, b.re), lanes_subtract(a.im, b.im)};
}

/* -i (a - b) */
static inline vector turned_difference_of(vector a, vector b)
{
    return (vector){lanes_subtract(a.im, b.im), lanes_subtract(b.re, a.re)};
}

/* Where the results of a butterfly go: p to the p-th of the points a step apart, turned by the p-th
 * twiddle, from 1 on. Those of the last stage are all 1. */
typedef struct butterfly {
    float *work;
    size_t step;
    const float *twiddle;
    bool turns;
} butterfly;

static ALWAYS_INLINE void put_result(const butterfly *to, size_t p, vector x)
{
    if (to->turns && p > 0)
        x = product(x,
                    (vector){lanes_all(to->twiddle[2 * p - 2]), lanes_all(to->twiddle[2 * p - 1])});
    store_point(to->work, p * to->step, x);
}

/* The transform of four points; results first, first + stride, ... of a butterfly. */
static ALWAYS_INLINE void transform_4(const butterfly *to, size_t first, size_t stride,
                                      const vector x[4])
{
    const vector even = sum_of(x[0], x[2]);
    const vector odd = sum_of(x[1], x[3]);
    const vector low = difference_of(x[0], x[2]);
    const vector high = turned_difference_of(x[1], x[3]);
    put_result(to, first, sum_of(even, odd));
    put_result(to, first + stride, sum_of(low, high));
    put_result(to, first + 2 * stride, difference_of(even, odd));
    put_result(to, first + 3 * stride, difference_of(low, high));
}

/* Even results are put away before the odd ones are begun: all then fits the registers. */
static ALWAYS_INLINE void transform_8(const butterfly *to, const vector x[8])
{
    const lanes half_root = lanes_all(0.70710678f);
    vector even[4];
    vector odd[4];
    for (size_t i = 0; i < 4; i++)
        even[i] = sum_of(x[i], x[i + 4]);
    odd[0] = difference_of(x[0], x[4]);
    const vector a = difference_of(x[1], x[5]);
    odd[2] = turned_difference_of(x[2], x[6]);
    const vector b = turned_difference_of(x[3], x[7]);
    transform_4(to, 0, 2, even);
    odd[1] = (vector){lanes_multiply(lanes_add(a.re, a.im), half_root),
                      lanes_multiply(lanes_subtract(a.im, a.re), half_root)};
    odd[3] = (vector){lanes_multiply(lanes_add(b.re, b.im), half_root),
                      lanes_multiply(lanes_subtract(b.im, b.re), half_root)};
    transform_4(to, 1, 2, odd);
}

/* Butterfly j of a part. */
static ALWAYS_INLINE butterfly butterfly_of(float *part, const wfi_batch_stage *stage, size_t radix,
                                            bool turns, size_t j)
{
    return (butterfly){
        .work = part + j * POINT_FLOATS,
        .step = stage->step,
        .twiddle = stage->twiddle + 2 * j * (radix - 1),
        .turns = turns,
    };
}

static ALWAYS_INLINE void run_butterflies(float *work, size_t n, const wfi_batch_stage *stage,
                                          size_t radix, bool turns)
{
    for (size_t part = 0; part < n; part += radix * stage->step) {
        for (size_t j = 0; j < stage->step; j++) {
            const butterfly to = butterfly_of(work + part * POINT_FLOATS, stage, radix, turns, j);
            vector x[8];
            for (size_t q = 0; q < radix; q++)
                x[q] = load_point(to.work, q * stage->step);
            if (radix == 8)
                transform_8(&to, x);
            else
                transform_4(&to, 0, 1, x);
        }
    }
}

static void run_stage(float *work, size_t n, const wfi_batch_stage *stage)
{
    const bool turns = stage->step > 1;
    if (stage->radix == 8 && turns)
        run_butterflies(work, n, stage, 8, true);
    else if (stage->radix == 8)
        run_butterflies(work, n, stage, 8, false);
    else if (turns)
        run_butterflies(work, n, stage, 4, true);
    else
        run_butterflies(work, n, stage, 4, false);
}

/* Stages from number s on, of a part of n points: stage by stage where the part fits the first
 * cache, else the parts that a stage leaves one after the other. */
static void run_stages(const wfi_batch_plan *plan, size_t s, float *work, size_t n)
{
    enum { CACHED_POINTS = 128 };
    for (; s < plan->n_stages && n <= CACHED_POINTS; s++)
        run_stage(work, n, &plan->stages[s]);
    if (s == plan->n_stages)
        return;
    const size_t part = plan->stages[s].step;
    run_stage(work, n, &plan->stages[s]);
    for (size_t p = 0; p < n; p += part)
        run_stages(plan, s + 1, work + p * POINT_FLOATS, part);
}

/* The first stage's points come from eight parts of the samples, by words of 16 samples. */
enum { PARTS = 8, PART_WORDS = LANES, SAMPLES_OF_A_WORD = 16, POINTS_OF_A_WORD = 8 };

/* Where every lane's samples begin. */
typedef struct lane_begins {
    codes byte;
    codes shift;
    codes shift_back; /* 32 - shift; a shift by 32 gives 0 */
} lane_begins;

/* Words first to first + LANES - 1 of every lane; words[w] has the w-th of all lanes. */
static inline void read_words(const wfi_batch_samples *samples, const lane_begins *begins,
                              size_t first, codes words[LANES])
{
    const uint8_t *bytes = samples->bytes + first * sizeof(uint32_t);
    codes low[LANES + 1];
    for (size_t s = 0; s < LANES; s++)
        low[s] = codes_load_bytes(bytes + samples->byte[s]);
    low[LANES] = codes_gather(bytes + LANES * sizeof(uint32_t), begins->byte);
    codes_transpose(low);
    for (size_t w = 0; w < LANES; w++)
        words[w] = codes_or(codes_shift(low[w], begins->shift),
                            codes_shift_left(low[w + 1], begins->shift_back));
}

/* Of each part, n_words from its word `first` on; words[part * n_words + w] is its w-th. Where
 * n_words is less than LANES, the parts are as short and lie one behind the other. */
static inline void read_parts(const wfi_batch_samples *samples, const lane_begins *begins,
                              size_t first, size_t part_words, size_t n_words,
                              codes words[PARTS * PART_WORDS])
{
    for (size_t w = 0; w < PARTS * n_words; w += LANES)
        read_words(samples, begins, first + w / n_words * part_words, words + w);
}

/* The phasors as floats, then each times its step. */
static inline void advance_phasors(float *out_re, float *out_im, double *re, double *im,
                                   const phasor *step)
{
    for (size_t s = 0; s < LANES; s++) {
        out_re[s] = (float)re[s];
        out_im[s] = (float)im[s];
        const double next = re[s] * step[s].re - im[s] * step[s].im;
        im[s] = re[s] * step[s].im + im[s] * step[s].re;
        re[s] = next;
    }
}

/* Phasors of all lanes: k has block[k / 16] * step[k % 16]. */
static void batch_phases(wfi_batch_phases *phases, const double *first_turns,
                         const double *step_turns, double amplitude, size_t n)
{
    phasor one[LANES]; /* step */
    double re[LANES];
    double im[LANES];
    for (size_t s = 0; s < LANES; s++) {
        one[s] = phasor_of_turns(step_turns[s]);
        re[s] = 1;
        im[s] = 0;
    }
    for (size_t k = 0; k < WFI_PHASE_BLOCK; k++)
        advance_phasors(phases->step_re + k * LANES, phases->step_im + k * LANES, re, im, one);
    for (size_t s = 0; s < LANES; s++) {
        one[s] = (phasor){re[s], im[s]};
        const phasor first = phasor_of_turns(first_turns[s]);
        re[s] = amplitude * first.re;
        im[s] = amplitude * first.im;
    }
    for (size_t b = 0; b < n / WFI_PHASE_BLOCK; b++)
        advance_phasors(phases->block_re + b * LANES, phases->block_im + b * LANES, re, im, one);
}

static inline vector batch_phasors_at(const wfi_batch_phases *phases, size_t k)
{
    const size_t block = k / WFI_PHASE_BLOCK * LANES;
    const size_t step = k % WFI_PHASE_BLOCK * LANES;
    const vector begin = {lanes_load(phases->block_re + block),
                          lanes_load(phases->block_im + block)};
    const vector within = {lanes_load(phases->step_re + step), lanes_load(phases->step_im + step)};
    return product(begin, within);
}

/* In how many of the 16 samples of a word the two bits are alike, those of the outer levels: eight
 * words' numbers added to the halves of each lane. */
static inline codes count_outer(const codes words[PARTS], codes count)
{
    codes fours[2] = {codes_all(0), codes_all(0)};
    for (size_t q = 0; q < PARTS; q++) {
        const codes differ = codes_xor(words[q], codes_shift(words[q], codes_all(1)));
        const codes outer =
            codes_and(codes_xor(differ, codes_all(UINT32_MAX)), codes_all(0x55555555));
        const codes pairs = codes_add(codes_and(outer, codes_all(0x11111111)),
                                      codes_and(codes_shift_2(outer), codes_all(0x11111111)));
        fours[q / 4] = codes_add(fours[q / 4], pairs);
    }
    codes bytes = codes_all(0);
    for (size_t i = 0; i < 2; i++) {
        bytes = codes_add(bytes, codes_and(fours[i], codes_all(0x0f0f0f0f)));
        bytes = codes_add(bytes, codes_and(codes_shift_4(fours[i]), codes_all(0x0f0f0f0f)));
    }
    count = codes_add(count, codes_and(bytes, codes_all(0x00ff00ff)));
    return codes_add(count, codes_and(codes_shift(bytes, codes_all(8)), codes_all(0x00ff00ff)));
}

/* The sum of squares of n samples. */
static double power_of(codes count, const float level[4], double n)
{
    const codes halves =
        codes_add(codes_and(count, codes_all(0xffff)), codes_shift(count, codes_all(16)));
    const double n_outer = (double)lanes_total(codes_to_float(halves)); /* < 2^24, exact */
    return n_outer * (double)level[3] * (double)level[3] +
           (n - n_outer) * (double)level[2] * (double)level[2];
}

/* Eight butterflies of two samples a point, from a word of each part. */
static inline void decode_word(const wfi_batch_stage *stage, const codes words[PARTS],
                               const float level[4], size_t first, float *work)
{
    for (size_t j = 0; j < POINTS_OF_A_WORD; j++) {
        const butterfly to = butterfly_of(work, stage, PARTS, true, first + j);
        vector x[PARTS];
        for (size_t q = 0; q < PARTS; q++) {
            const codes sample = codes_shift(words[q], codes_all(4 * (uint32_t)j));
            x[q] = (vector){codes_level(sample, level), codes_level(codes_shift_2(sample), level)};
        }
        transform_8(&to, x);
    }
}

/* Sixteen butterflies of rotated samples, one a point. */
static inline void rotate_word(const wfi_batch_stage *stage, const codes words[PARTS],
                               const float level[4], const wfi_batch_phases *phases, size_t first,
                               float *work)
{
    for (size_t j = 0; j < SAMPLES_OF_A_WORD; j++) {
        const butterfly to = butterfly_of(work, stage, PARTS, true, first + j);
        vector x[PARTS];
        for (size_t q = 0; q < PARTS; q++) {
            const lanes sample =
                codes_level(codes_shift(words[q], codes_all(2 * (uint32_t)j)), level);
            const vector p = batch_phasors_at(phases, first + j + q * stage->step);
            x[q] = (vector){lanes_multiply(sample, p.re), lanes_multiply(sample, p.im)};
        }
        transform_8(&to, x);
    }
}

/* The first stage takes its points from the packed samples. Returns the sum of their squares. */
static double run_first_stage(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                              const float level[4], const wfi_batch_phases *rotation, float *work)
{
    const wfi_batch_stage *stage = &plan->stages[0];
    const size_t n_points = rotation == NULL ? POINTS_OF_A_WORD : SAMPLES_OF_A_WORD;
    const size_t part_words = stage->step / n_points;
    const size_t n_words = part_words < PART_WORDS ? part_words : PART_WORDS;
    const lane_begins begins = {
        .byte = codes_load(samples->byte),
        .shift = codes_load(samples->shift),
        .shift_back = codes_subtract(codes_all(32), codes_load(samples->shift)),
    };
    codes count = codes_all(0);
    for (size_t first = 0; first < part_words; first += n_words) {
        codes read[PARTS * PART_WORDS];
        read_parts(samples, &begins, first, part_words, n_words, read);
        for (size_t w = 0; w < n_words; w++) {
            const size_t point = (first + w) * n_points;
            codes words[PARTS];
            for (size_t q = 0; q < PARTS; q++)
                words[q] = read[q * n_words + w];
            count = count_outer(words, count);
            if (rotation == NULL)
                decode_word(stage, words, level, point, work);
            else
                rotate_word(stage, words, level, rotation, point, work);
        }
    }
    return power_of(count, level, (double)(LANES * PARTS * SAMPLES_OF_A_WORD * part_words));
}

static double batch_transform(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                              const float level[4], const wfi_batch_phases *rotation, float *work)
{
    const size_t part = plan->stages[0].step;
    const double power = run_first_stage(plan, samples, level, rotation, work);
    for (size_t p = 0; p < plan->n; p += part)
        run_stages(plan, 1, work + p * POINT_FLOATS, part);
    return power;
}

#endif
