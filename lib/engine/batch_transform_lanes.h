/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The early stages of batches in vectors, from packed samples on: two at once, so that the points
 * between them never leave the first cache. Included by one file a family, after
 * batch_words_lanes.h. */
#ifndef WFI_ENGINE_BATCH_TRANSFORM_LANES_H
#define WFI_ENGINE_BATCH_TRANSFORM_LANES_H

/* Points that the first stage takes at once, and that it leaves for the second. */
enum { FIRST_RADIX = 8, SECOND_RADIX_MAX = 8, BETWEEN = FIRST_RADIX * SECOND_RADIX_MAX };

/* How the points of a first stage are turned. */
typedef enum turning {
    NOT_TURNED, /* two samples a point */
    TURNED_ALIKE,
    TURNED_BY_EIGHTHS,
} turning;

/* What a transform takes its points from: four bits for points j and j + n / 2 at once, real parts
 * from the one words and imaginary parts from the others. */
typedef struct paired_samples {
    const uint32_t *re;
    const uint32_t *im;
    size_t step; /* points of an eighth */
    turning turning;
    const wfi_batch_tables *tables;
    const float *level;
    const float (*turns)[2][LANES]; /* of eighths */
} paired_samples;

/* What a butterfly takes; the last two differences times -i. */
typedef struct halves {
    vector sums[4];
    vector differences[4];
} halves;

static ALWAYS_INLINE codes paired_codes(const uint32_t *words, size_t point)
{
    return codes_shift(codes_load(words + point / WFI_BATCH_WORD_POINTS * LANES),
                       codes_all(4 * (uint32_t)(point % WFI_BATCH_WORD_POINTS)));
}

static ALWAYS_INLINE void look_up_halves(paired_samples samples, size_t j, halves *out)
{
    const bool rotated = samples.turning == TURNED_ALIKE;
#pragma GCC unroll 4
    for (size_t q = 0; q < 4; q++) {
        const wfi_batch_table *table = samples.tables->quarters + (rotated ? q : q / 2);
        const codes re = paired_codes(samples.re, q * samples.step + j);
        const codes im = paired_codes(samples.im, q * samples.step + j);
        out->sums[q] = (vector){codes_look_up(re, lanes_load(table->sum_re)),
                                codes_look_up(im, lanes_load(table->sum_im))};
        out->differences[q] =
            (vector){codes_look_up(q < 2 ? re : im, lanes_load(table->difference_re)),
                     codes_look_up(q < 2 ? im : re, lanes_load(table->difference_im))};
    }
}

static ALWAYS_INLINE vector load_turn(const float turn[2][LANES])
{
    return (vector){lanes_load(turn[0]), lanes_load(turn[1])};
}

static ALWAYS_INLINE void turn_halves(paired_samples samples, size_t j, halves *out)
{
#pragma GCC unroll 4
    for (size_t q = 0; q < 4; q++) {
        const codes both = paired_codes(samples.re, q * samples.step + j);
        const lanes a = codes_level(both, samples.level);
        const lanes b = codes_level(codes_shift_2(both), samples.level);
        const vector p = load_turn(samples.turns[q]);
        const vector r = load_turn(samples.turns[q + 4]);
        const vector x = {lanes_multiply(a, p.re), lanes_multiply(a, p.im)};
        const vector difference = {lanes_fnma(b, r.re, x.re), lanes_fnma(b, r.im, x.im)};
        const vector turned = {difference.im, lanes_fms(b, r.re, x.re)};
        out->sums[q] = (vector){lanes_fma(b, r.re, x.re), lanes_fma(b, r.im, x.im)};
        out->differences[q] = q < 2 ? difference : turned;
    }
}

/* The second stage's butterflies i of all parts. */
static ALWAYS_INLINE void run_second(const wfi_batch_plan *plan, size_t radix, size_t i,
                                     const float *between, float *work)
{
    const wfi_batch_stage *first = &plan->stages[0];
    for (size_t p = 0; p < FIRST_RADIX; p++) {
        const butterfly to =
            butterfly_of(work + p * first->stride * POINT_FLOATS, &plan->stages[1], radix, i);
        vector x[SECOND_RADIX_MAX];
        for (size_t q = 0; q < radix; q++)
            x[q] = load_point(between, p * radix + q);
        transform_points(&to, radix, x);
    }
}

/* The first stage's butterfly j, its results going to points a stride apart. */
static ALWAYS_INLINE void run_first(paired_samples samples, const float *twiddles, size_t j,
                                    size_t stride, float *points)
{
    const bool rotated = samples.turning != NOT_TURNED;
    const float *twiddle = twiddles + 2 * j * (rotated ? FIRST_RADIX : FIRST_RADIX - 1);
    const butterfly to = {
        .work = points,
        .stride = stride,
        .twiddle = twiddle,
        .twiddle_again = hidden(twiddle),
        .turns_first = rotated,
    };
    halves x;
    if (samples.turning == TURNED_BY_EIGHTHS)
        turn_halves(samples, j, &x);
    else
        look_up_halves(samples, j, &x);
    transform_halves(&to, x.sums, x.differences);
}

static ALWAYS_INLINE void run_both(const wfi_batch_plan *plan, size_t radix, paired_samples samples,
                                   const float *twiddles, float *work)
{
    const size_t step = samples.step / radix;
    float between[BETWEEN * POINT_FLOATS];
    for (size_t i = 0; i < step; i++) {
        for (size_t q = 0; q < radix; q++)
            run_first(samples, twiddles, q * step + i, radix, between + q * POINT_FLOATS);
        run_second(plan, radix, i, between, work);
    }
}

static ALWAYS_INLINE void run_early(const wfi_batch_plan *plan, paired_samples samples,
                                    const float *twiddles, float *work)
{
    if (plan->n_early == 1) {
        for (size_t j = 0; j < samples.step; j++)
            run_first(samples, twiddles, j, plan->stages[0].stride, work + j * POINT_FLOATS);
    } else if (plan->stages[1].radix == 8) {
        run_both(plan, 8, samples, twiddles, work);
    } else {
        run_both(plan, 4, samples, twiddles, work);
    }
}

/* Each has loops of its own, with its own constants. */
static void run_plain(const wfi_batch_plan *plan, paired_samples samples, float *work)
{
    samples.turning = NOT_TURNED;
    run_early(plan, samples, plan->stages[0].twiddle, work);
}

static void run_alike(const wfi_batch_plan *plan, paired_samples samples, const float *twiddles,
                      float *work)
{
    samples.turning = TURNED_ALIKE;
    run_early(plan, samples, twiddles, work);
}

static void run_by_eighths(const wfi_batch_plan *plan, paired_samples samples,
                           const float *twiddles, float *work)
{
    samples.turning = TURNED_BY_EIGHTHS;
    run_early(plan, samples, twiddles, work);
}

static size_t n_words_of(const wfi_batch_plan *plan)
{
    return plan->n / WFI_BATCH_WORD_POINTS;
}

/* Reads the words of a batch; returns the sum of the samples' squares. */
static double prepare_words(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                            const float level[4], uint32_t *words)
{
    read_words(samples, n_words_of(plan), words);
    pair_words(words, n_words_of(plan));
    return power_of(words, n_words_of(plan), level);
}

static double batch_transform(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                              const float level[4], const wfi_batch_tables *tables, uint32_t *words,
                              float *work)
{
    const double power = prepare_words(plan, samples, level, words);
    const paired_samples both = {
        .re = words,
        .im = words + n_words_of(plan) / 2 * LANES,
        .step = plan->stages[0].step,
        .tables = tables,
    };
    run_plain(plan, both, work);
    return power;
}

static double batch_transform_rotated(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                                      const float level[4], const wfi_batch_rotation *rotation,
                                      uint32_t *words, float *even_work, float *odd_work)
{
    const double power = prepare_words(plan, samples, level, words);
    const uint32_t *odd_words = words + n_words_of(plan) / 2 * LANES;
    paired_samples even = {.re = words, .im = words, .step = plan->stages[0].step, .level = level};
    paired_samples odd = even;
    odd.re = odd.im = odd_words;
    even.tables = &rotation->even;
    odd.tables = &rotation->odd;
    even.turns = rotation->even_turns;
    odd.turns = rotation->odd_turns;
    if (rotation->alike) {
        run_alike(plan, even, rotation->twiddles, even_work);
        run_alike(plan, odd, rotation->twiddles, odd_work);
    } else {
        run_by_eighths(plan, even, rotation->twiddles, even_work);
        run_by_eighths(plan, odd, rotation->twiddles, odd_work);
    }
    return power;
}

#endif
