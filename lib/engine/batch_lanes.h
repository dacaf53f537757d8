/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Batches in vectors: decode and first stage, the other stages, split with phase and layout.
 * Included by one file a family, after channel_lanes.h.
 *
 * A point of the work space is the real parts of all lanes, then the imaginary ones.
 */
#ifndef WFI_ENGINE_BATCH_LANES_H
#define WFI_ENGINE_BATCH_LANES_H

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

/* The point whose samples stand in the lowest four bits, and its squares. */
static inline vector decode_point(codes x, const float level[4], vector *squares)
{
    const vector point = {codes_level(x, level), codes_level(codes_shift_2(x), level)};
    squares->re = lanes_fma(point.re, point.re, squares->re);
    squares->im = lanes_fma(point.im, point.im, squares->im);
    return point;
}

/* The first stage takes its points from the packed samples, eight butterflies from eight words.
 * Returns the sum of the samples' squares. */
static double decode_stage(const wfi_batch_stage *stage, const sample_reader *reader,
                           const float level[4], float *work)
{
    enum { POINTS_OF_A_WORD = 8, BYTES_OF_A_WORD = 4 };
    double total = 0;
    for (size_t first = 0; first < stage->step; first += POINTS_OF_A_WORD) {
        codes words[8];
        for (size_t q = 0; q < 8; q++)
            words[q] = read_codes(reader, reader->bytes + (q * stage->step + first) /
                                                              POINTS_OF_A_WORD * BYTES_OF_A_WORD);
        vector squares = {lanes_all(0.0f), lanes_all(0.0f)};
        for (size_t j = first; j < first + POINTS_OF_A_WORD; j++) {
            vector x[8];
            for (size_t q = 0; q < 8; q++) {
                x[q] = decode_point(words[q], level, &squares);
                words[q] = codes_shift_4(words[q]);
            }
            transform_8(x);
            store_butterfly(work, j, stage, 8, j, x);
        }
        total += (double)lanes_total(lanes_add(squares.re, squares.im));
    }
    return total;
}

static double batch_transform(const wfi_batch_plan *plan, const wfi_batch_samples *samples,
                              const float level[4], float *work)
{
    const sample_reader reader = {
        .bytes = samples->bytes,
        .byte = codes_load(samples->byte),
        .shift = codes_load(samples->shift),
        .shift_back = codes_subtract(codes_all(32), codes_load(samples->shift)),
    };
    const double power = decode_stage(&plan->stages[0], &reader, level, work);
    const size_t part = plan->stages[0].step;
    for (size_t p = 0; p < plan->n; p += part) {
        for (size_t s = 1; s < plan->n_stages; s++)
            run_stage(work + p * POINT_FLOATS, part, &plan->stages[s]);
    }
    return power;
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

/* Twice bins k and n - k of all lanes. */
static inline void split_point(const wfi_batch_plan *plan, const float *twiddle, const float *work,
                               size_t k, vector *bin, vector *mirrored)
{
    const size_t n = plan->n;
    const vector z = load_point(work, plan->place[k]);
    const vector m = load_point(work, plan->place[n - k]);
    const vector w = {lanes_all(twiddle[k]), lanes_all(twiddle[n / 2 + 1 + k])};
    const vector even = {lanes_add(z.re, m.re), lanes_subtract(z.im, m.im)};
    const vector odd = {lanes_add(z.im, m.im), lanes_subtract(m.re, z.re)};
    const vector turned = product(odd, w);
    *bin = (vector){lanes_add(even.re, turned.re), lanes_add(even.im, turned.im)};
    *mirrored = (vector){lanes_subtract(even.re, turned.re), lanes_subtract(turned.im, even.im)};
}

/* LANES channels of all lanes. */
typedef struct channel_block {
    float re[LANES][LANES];
    float im[LANES][LANES];
} channel_block;

/* Channel first + i of a block, put into phase. */
static inline void put_point(channel_block *block, size_t i, vector x, vector p, bool conjugate)
{
    const vector y = conjugate ? conjugate_product(x, p) : product(x, p);
    lanes_store(block->re[i], y.re);
    lanes_store(block->im[i], y.im);
}

/* A block to the tiles of its segments, which follow one another. */
static inline void store_block(const channel_block *block, const wfi_destination *to,
                               size_t channel, float *tiles)
{
    float *at = tiles + channel / WFI_TILE_CHANNELS * to->tile_stride + channel % WFI_TILE_CHANNELS;
    lanes_store_transposed(block->re, at, WFI_TILE_FLOATS);
    lanes_store_transposed(block->im, at + WFI_TILE_CHANNELS, WFI_TILE_FLOATS);
}

/* Channels first .. first + LANES - 1 and their mirror images n - first - LANES ... Bins k fill the
 * one and bins n - k the other; `last` is bin n - first - LANES, which the step before has made.
 */
static inline void split_block(const wfi_batch_plan *plan, const wfi_destination *to,
                               const wfi_batch_phases *phases, const float *twiddle,
                               size_t n_streams, float *const *works, size_t first, vector *last,
                               float *const *tiles)
{
    const bool conjugate = to->conjugate;
    const size_t n = plan->n;
    const size_t high = n - first - LANES;
    const size_t to_bins = conjugate ? high : first;
    const size_t to_mirrors = conjugate ? first : high;
    channel_block bins[2];
    channel_block mirrors[2];
    for (size_t j = LANES; j-- > 0;) {
        const size_t at_bin = conjugate ? LANES - 1 - j : j;
        const size_t at_mirror = conjugate ? j : LANES - 1 - j;
        const vector of_bin = batch_phasors_at(phases, to_bins + at_bin);
        const vector of_mirror = batch_phasors_at(phases, to_mirrors + at_mirror);
        for (size_t i = 0; i < n_streams; i++) {
            vector bin;
            vector mirrored;
            split_point(plan, twiddle, works[i], first + j, &bin, &mirrored);
            put_point(&bins[i], at_bin, bin, of_bin, conjugate);
            put_point(&mirrors[i], at_mirror, last[i], of_mirror, conjugate);
            last[i] = mirrored;
        }
    }
    for (size_t i = 0; i < n_streams; i++) {
        store_block(&bins[i], to, to_bins, tiles[i]);
        store_block(&mirrors[i], to, to_mirrors, tiles[i]);
    }
}

/* Two streams at once share the phasors. */
static inline void batch_split_streams(const wfi_batch_plan *plan, const wfi_destination *to,
                                       const wfi_batch_phases *phases, const float *twiddle,
                                       size_t n_streams, float *const *works, float *const *tiles)
{
    vector last[2];
    for (size_t i = 0; i < n_streams; i++) {
        const vector middle = load_point(works[i], plan->place[plan->n / 2]);
        last[i] = (vector){lanes_multiply(middle.re, lanes_all(2.0f)),
                           lanes_multiply(middle.im, lanes_all(-2.0f))};
    }
    for (size_t first = plan->n / 2; first > 0;) {
        first -= LANES;
        split_block(plan, to, phases, twiddle, n_streams, works, first, last, tiles);
    }
}

static void batch_split(const wfi_batch_plan *plan, const wfi_destination *to,
                        const wfi_batch_phases *phases, const float *twiddle, size_t n_streams,
                        float *const *works, float *const *tiles)
{
    size_t i = 0;
    for (; i + 2 <= n_streams; i += 2)
        batch_split_streams(plan, to, phases, twiddle, 2, works + i, tiles + i);
    if (i < n_streams)
        batch_split_streams(plan, to, phases, twiddle, 1, works + i, tiles + i);
}

#endif
