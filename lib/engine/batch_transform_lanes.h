/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Transforms of batches in vectors: decode and first stage, then the other stages. Included by one
 * file a family, after channel_lanes.h.
 *
 * A point of the work space is the real parts of all lanes, then the imaginary ones.
 */
#ifndef WFI_ENGINE_BATCH_TRANSFORM_LANES_H
#define WFI_ENGINE_BATCH_TRANSFORM_LANES_H

enum { POINT_FLOATS = 2 * LANES };

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

static inline void transform_4(vector x[4])
{
    const vector even = sum_of(x[0], x[2]);
    const vector odd = sum_of(x[1], x[3]);
    const vector low = difference_of(x[0], x[2]);
    const vector high = turned_difference_of(x[1], x[3]);
    x[0] = sum_of(even, odd);
    x[1] = sum_of(low, high);
    x[2] = difference_of(even, odd);
    x[3] = difference_of(low, high);
}

static inline void transform_8(vector x[8])
{
    const lanes half_root = lanes_all(0.70710678f);
    vector even[4];
    vector odd[4];
    for (size_t i = 0; i < 4; i++)
        even[i] = sum_of(x[i], x[i + 4]);
    odd[0] = difference_of(x[0], x[4]);
    const vector a = difference_of(x[1], x[5]);
    odd[1] = (vector){lanes_multiply(lanes_add(a.re, a.im), half_root),
                      lanes_multiply(lanes_subtract(a.im, a.re), half_root)};
    odd[2] = turned_difference_of(x[2], x[6]);
    const vector b = turned_difference_of(x[3], x[7]);
    odd[3] = (vector){lanes_multiply(lanes_add(b.re, b.im), half_root),
                      lanes_multiply(lanes_subtract(b.im, b.re), half_root)};
    transform_4(even);
    transform_4(odd);
    for (size_t i = 0; i < 4; i++) {
        x[2 * i] = even[i];
        x[2 * i + 1] = odd[i];
    }
}

/* Results of a butterfly, turned and put back. */
static inline void store_butterfly(float *work, size_t first, const wfi_batch_stage *stage,
                                   size_t radix, size_t j, const vector *x)
{
    const float *twiddle = stage->twiddle + 2 * j * (radix - 1);
    store_point(work, first, x[0]);
    for (size_t p = 1; p < radix; p++, twiddle += 2) {
        const vector w = {lanes_all(twiddle[0]), lanes_all(twiddle[1])};
        store_point(work, first + p * stage->step, product(x[p], w));
    }
}

/* The last stage, whose twiddles are all 1. */
static inline void store_last(float *work, size_t first, size_t radix, const vector *x)
{
    for (size_t p = 0; p < radix; p++)
        store_point(work, first + p, x[p]);
}

static inline void run_butterfly(float *work, size_t first, const wfi_batch_stage *stage,
                                 size_t radix, size_t j)
{
    vector x[8];
    for (size_t q = 0; q < radix; q++)
        x[q] = load_point(work, first + q * stage->step);
    if (radix == 8)
        transform_8(x);
    else
        transform_4(x);
    if (stage->step == 1)
        store_last(work, first, radix, x);
    else
        store_butterfly(work, first, stage, radix, j, x);
}

static void run_stage(float *work, size_t n, const wfi_batch_stage *stage)
{
    for (size_t part = 0; part < n; part += stage->radix * stage->step) {
        if (stage->radix == 8) {
            for (size_t j = 0; j < stage->step; j++)
                run_butterfly(work, part + j, stage, 8, j);
        } else {
            for (size_t j = 0; j < stage->step; j++)
                run_butterfly(work, part + j, stage, 4, j);
        }
    }
}

/* Packed samples of all lanes from one place on, 16 at a time. */
typedef struct sample_reader {
    const uint8_t *bytes;
    codes byte;
    codes shift;
    codes shift_back; /* 32 - shift; a shift by 32 gives 0 */
} sample_reader;

static inline codes read_codes(const sample_reader *reader, const uint8_t *bytes)
{
    const codes low = codes_gather(bytes, reader->byte);
    const codes high = codes_gather(bytes + sizeof(uint32_t), reader->byte);
    return codes_or(codes_shift(low, reader->shift), codes_shift_left(high, reader->shift_back));
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

/* Sums of squares in chains that do not wait for one another. */
enum { SQUARES = 4 };

static inline double total_of(const lanes squares[SQUARES])
{
    return (double)lanes_total(
        lanes_add(lanes_add(squares[0], squares[1]), lanes_add(squares[2], squares[3])));
}

/* The point whose samples stand in the lowest four bits. */
static inline vector decode_point(codes x, const float level[4], lanes *squares)
{
    const vector point = {codes_level(x, level), codes_level(codes_shift_2(x), level)};
    *squares = lanes_fma(point.re, point.re, *squares);
    *squares = lanes_fma(point.im, point.im, *squares);
    return point;
}

/* The sample that stands in the lowest two bits, rotated. */
static inline vector rotate_point(codes x, const float level[4], vector phasor_of_sample,
                                  lanes *squares)
{
    const lanes sample = codes_level(x, level);
    *squares = lanes_fma(sample, sample, *squares);
    return (vector){lanes_multiply(sample, phasor_of_sample.re),
                    lanes_multiply(sample, phasor_of_sample.im)};
}

static inline void read_words(const sample_reader *reader, size_t first_word, size_t stride_words,
                              codes words[8])
{
    for (size_t q = 0; q < 8; q++)
        words[q] =
            read_codes(reader, reader->bytes + (first_word + q * stride_words) * sizeof(uint32_t));
}

/* The first stage takes its points from the packed samples, two samples a point and eight points a
 * word: eight butterflies from eight words. Returns the sum of the samples' squares. */
static double decode_stage(const wfi_batch_stage *stage, const sample_reader *reader,
                           const float level[4], float *work)
{
    enum { POINTS_OF_A_WORD = 8 };
    double total = 0;
    for (size_t first = 0; first < stage->step; first += POINTS_OF_A_WORD) {
        codes words[8];
        lanes squares[SQUARES] = {lanes_all(0.0f), lanes_all(0.0f), lanes_all(0.0f),
                                  lanes_all(0.0f)};
        read_words(reader, first / POINTS_OF_A_WORD, stage->step / POINTS_OF_A_WORD, words);
        for (size_t j = first; j < first + POINTS_OF_A_WORD; j++) {
            vector x[8];
            for (size_t q = 0; q < 8; q++) {
                x[q] = decode_point(words[q], level, &squares[q % SQUARES]);
                words[q] = codes_shift_4(words[q]);
            }
            transform_8(x);
            store_butterfly(work, j, stage, 8, j, x);
        }
        total += total_of(squares);
    }
    return total;
}

/* The same of rotated samples, one a point and sixteen a word. */
static double rotate_stage(const wfi_batch_stage *stage, const sample_reader *reader,
                           const float level[4], const wfi_batch_phases *phases, float *work)
{
    enum { POINTS_OF_A_WORD = WFI_PHASE_BLOCK };
    double total = 0;
    for (size_t first = 0; first < stage->step; first += POINTS_OF_A_WORD) {
        codes words[8];
        lanes squares[SQUARES] = {lanes_all(0.0f), lanes_all(0.0f), lanes_all(0.0f),
                                  lanes_all(0.0f)};
        read_words(reader, first / POINTS_OF_A_WORD, stage->step / POINTS_OF_A_WORD, words);
        for (size_t j = first; j < first + POINTS_OF_A_WORD; j++) {
            vector x[8];
            for (size_t q = 0; q < 8; q++) {
                x[q] = rotate_point(words[q], level, batch_phasors_at(phases, j + q * stage->step),
                                    &squares[q % SQUARES]);
                words[q] = codes_shift_2(words[q]);
            }
            transform_8(x);
            store_butterfly(work, j, stage, 8, j, x);
        }
        total += total_of(squares);
    }
    return total;
}

static void run_other_stages(const wfi_batch_plan *plan, float *work)
{
    const size_t part = plan->stages[0].step;
    for (size_t p = 0; p < plan->n; p += part) {
        for (size_t s = 1; s < plan->n_stages; s++)
            run_stage(work + p * POINT_FLOATS, part, &plan->stages[s]);
    }
}

static double batch_transform(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                              const float level[4], const wfi_batch_phases *rotation, float *work)
{
    const sample_reader reader = {
        .bytes = samples->bytes,
        .byte = codes_load(samples->byte),
        .shift = codes_load(samples->shift),
        .shift_back = codes_subtract(codes_all(32), codes_load(samples->shift)),
    };
    const double power = rotation == NULL
                             ? decode_stage(&plan->stages[0], &reader, level, work)
                             : rotate_stage(&plan->stages[0], &reader, level, rotation, work);
    run_other_stages(plan, work);
    return power;
}

#endif
