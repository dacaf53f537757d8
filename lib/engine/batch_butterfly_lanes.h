/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Butterflies of batches in vectors. Included by one file a family, after channel_lanes.h.
 *
 * A point of the work space is the real parts of all lanes, then the imaginary ones.
 */
#ifndef WFI_ENGINE_BATCH_BUTTERFLY_LANES_H
#define WFI_ENGINE_BATCH_BUTTERFLY_LANES_H

enum { POINT_FLOATS = 2 * LANES };

/* Inner loops come in variants, each with its own constants. */
#define ALWAYS_INLINE inline __attribute__((always_inline))

static inline vector load_point(const float *work, size_t place)
{
    return load_vector(work + place * POINT_FLOATS, LANES);
}

static inline void store_point(float *work, size_t place, vector x)
{
    store_vector(work + place * POINT_FLOATS, LANES, x);
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

/* Where the results of a butterfly go: p to the p-th of the points a stride apart, turned by the
 * p-th twiddle, from 1 on; or, of the last stage, as they are to `results`. */
typedef struct butterfly {
    float *work;
    size_t stride;
    const float *twiddle;
    const float *twiddle_again;
    bool turns_first; /* result 0 too, by the twiddle behind the last */
    vector *results;
} butterfly;

/* x w; `again` is w, hidden from the compiler: a number that is loaded by the multiplication itself
 * costs nothing, one that is loaded once for two of them takes the place of another operation. */
static ALWAYS_INLINE vector twiddled(vector x, const float *w, const float *again)
{
    return (vector){
        lanes_fms(x.re, lanes_all(w[0]), lanes_multiply(x.im, lanes_all(w[1]))),
        lanes_fma(x.re, lanes_all(again[1]), lanes_multiply(x.im, lanes_all(again[0])))};
}

/* The same pointer, which the compiler cannot know. */
static ALWAYS_INLINE const float *hidden(const float *pointer)
{
    __asm__("" : "+r"(pointer));
    return pointer;
}

static ALWAYS_INLINE void put_result(const butterfly *to, size_t p, vector x)
{
    if (to->results != NULL) {
        to->results[p] = x;
        return;
    }
    const size_t at = p > 0 ? 2 * p - 2 : 14;
    if (p > 0 || to->turns_first)
        x = twiddled(x, to->twiddle + at, to->twiddle_again + at);
    store_point(to->work, p * to->stride, x);
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

/* a + h b */
static inline vector sum_of_scaled(vector a, vector b, lanes h)
{
    return (vector){lanes_fma(b.re, h, a.re), lanes_fma(b.im, h, a.im)};
}

/* a - h b */
static inline vector difference_of_scaled(vector a, vector b, lanes h)
{
    return (vector){lanes_fnma(b.re, h, a.re), lanes_fnma(b.im, h, a.im)};
}

/* (1 - i) x */
static inline vector turned_half(vector x)
{
    return (vector){lanes_add(x.re, x.im), lanes_subtract(x.im, x.re)};
}

/* Odd results of eight points, from x_k - x_k+4, the last two of them times -i. A root of one half
 * is multiplied where sums are taken anyway. */
static ALWAYS_INLINE void transform_odd(const butterfly *to, const vector x[4])
{
    const lanes half_root = lanes_all(0.70710678f);
    const vector even = sum_of(x[0], x[2]);
    const vector low = difference_of(x[0], x[2]);
    const vector odd = turned_half(sum_of(x[1], x[3]));
    const vector high = turned_half(difference_of(x[1], x[3])); /* times i */
    put_result(to, 1, sum_of_scaled(even, odd, half_root));
    put_result(to, 5, difference_of_scaled(even, odd, half_root));
    put_result(
        to, 3,
        (vector){lanes_fma(high.im, half_root, low.re), lanes_fnma(high.re, half_root, low.im)});
    put_result(
        to, 7,
        (vector){lanes_fnma(high.im, half_root, low.re), lanes_fma(high.re, half_root, low.im)});
}

/* The transform of eight points from x_k + x_k+4 and from x_k - x_k+4, the last two of these times
 * -i. Even results are put away before the odd ones are begun: all then fits the registers. */
static ALWAYS_INLINE void transform_halves(const butterfly *to, const vector sums[4],
                                           const vector differences[4])
{
    transform_4(to, 0, 2, sums);
    transform_odd(to, differences);
}

static ALWAYS_INLINE void transform_8(const butterfly *to, const vector x[8])
{
    const vector sums[4] = {
        sum_of(x[0], x[4]),
        sum_of(x[1], x[5]),
        sum_of(x[2], x[6]),
        sum_of(x[3], x[7]),
    };
    const vector differences[4] = {
        difference_of(x[0], x[4]),
        difference_of(x[1], x[5]),
        turned_difference_of(x[2], x[6]),
        turned_difference_of(x[3], x[7]),
    };
    transform_halves(to, sums, differences);
}

static ALWAYS_INLINE void transform_points(const butterfly *to, size_t radix, const vector *x)
{
    if (radix == 8)
        transform_8(to, x);
    else
        transform_4(to, 0, 1, x);
}

/* Butterfly j of a part. */
static ALWAYS_INLINE butterfly butterfly_of(float *part, const wfi_batch_stage *stage, size_t radix,
                                            size_t j)
{
    const float *twiddle = stage->twiddle + 2 * j * (radix - 1);
    return (butterfly){
        .work = part + j * POINT_FLOATS,
        .stride = stage->stride,
        .twiddle = twiddle,
        .twiddle_again = hidden(twiddle),
    };
}

static ALWAYS_INLINE void run_butterflies(float *work, const wfi_batch_stage *stage, size_t radix)
{
    for (size_t j = 0; j < stage->step; j++) {
        const butterfly to = butterfly_of(work, stage, radix, j);
        vector x[8];
        for (size_t q = 0; q < radix; q++)
            x[q] = load_point(to.work, q * stage->stride);
        transform_points(&to, radix, x);
    }
}

/* The stages up to the last, but for it, of one part: the parts that a stage leaves are finished
 * one after the other, while they are in the first cache. */
static void run_stages(const wfi_batch_stage *stage, const wfi_batch_stage *last, float *work)
{
    if (stage == last)
        return;
    if (stage->radix == 8)
        run_butterflies(work, stage, 8);
    else
        run_butterflies(work, stage, 4);
    for (size_t p = 0; p < stage->radix && stage + 1 != last; p++)
        run_stages(stage + 1, last, work + p * stage->stride * POINT_FLOATS);
}

#endif
