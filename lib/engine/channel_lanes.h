/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rotation, split and placing in vectors. Included by one file a family. */
#ifndef WFI_ENGINE_CHANNEL_LANES_H
#define WFI_ENGINE_CHANNEL_LANES_H

typedef struct vector {
    lanes re;
    lanes im;
} vector;

/* Imaginary parts stand `to_im` floats behind the real ones. */
static inline vector load_vector(const float *at, size_t to_im)
{
    return (vector){lanes_load(at), lanes_load(at + to_im)};
}

static inline void store_vector(float *at, size_t to_im, vector x)
{
    lanes_store(at, x.re);
    lanes_store(at + to_im, x.im);
}

static inline void store_to_tile(float *at, vector x, bool past_caches)
{
    if (past_caches) {
        lanes_store_past_caches(at, x.re);
        lanes_store_past_caches(at + WFI_TILE_CHANNELS, x.im);
    } else {
        store_vector(at, WFI_TILE_CHANNELS, x);
    }
}

/* Phasors k .. k + LANES - 1; k a multiple of LANES. */
static inline vector phasors_at(const wfi_phases *phases, size_t k)
{
    const lanes block_re = lanes_all(phases->block_re[k / WFI_PHASE_BLOCK]);
    const lanes block_im = lanes_all(phases->block_im[k / WFI_PHASE_BLOCK]);
    const lanes step_re = lanes_load(phases->step_re + k % WFI_PHASE_BLOCK);
    const lanes step_im = lanes_load(phases->step_im + k % WFI_PHASE_BLOCK);
    return (vector){lanes_fms(block_re, step_re, lanes_multiply(block_im, step_im)),
                    lanes_fma(block_re, step_im, lanes_multiply(block_im, step_re))};
}

static inline vector product(vector x, vector p)
{
    return (vector){lanes_fms(x.re, p.re, lanes_multiply(x.im, p.im)),
                    lanes_fma(x.re, p.im, lanes_multiply(x.im, p.re))};
}

/* conj(x) p */
static inline vector conjugate_product(vector x, vector p)
{
    return (vector){lanes_fma(x.re, p.re, lanes_multiply(x.im, p.im)),
                    lanes_fms(x.re, p.im, lanes_multiply(x.im, p.re))};
}

static inline void put_vector(const wfi_destination *to, size_t c, vector x, vector p, float *tiles)
{
    const vector y = to->conjugate ? conjugate_product(x, p) : product(x, p);
    float *at = tiles + c / WFI_TILE_CHANNELS * to->row_stride + c % WFI_TILE_CHANNELS;
    store_to_tile(at, y, to->past_caches);
}

static void rotate_real(const float *samples, size_t n, const wfi_phases *phases, float *out)
{
    for (size_t m = 0; m < n; m += LANES) {
        const vector p = phasors_at(phases, m);
        const lanes x = lanes_load(samples + m);
        lanes_store_pairs(out + 2 * m, lanes_multiply(x, p.re), lanes_multiply(x, p.im));
    }
}

static void rotate_complex(const float *samples, size_t n, float sense, const wfi_phases *phases,
                           float *out)
{
    for (size_t m = 0; m < n; m += LANES) {
        vector x;
        lanes_load_pairs(samples + 2 * m, &x.re, &x.im);
        const vector p = phasors_at(phases, m);
        const vector y = sense < 0 ? conjugate_product(x, p) : product(x, p);
        lanes_store_pairs(out + 2 * m, y.re, y.im);
    }
}

static void rotate(const float *samples, size_t n, bool is_complex, float sense,
                   const wfi_phases *phases, float *out)
{
    const size_t n_vectors = n / LANES * LANES;
    if (is_complex)
        rotate_complex(samples, n_vectors, sense, phases, out);
    else
        rotate_real(samples, n_vectors, phases, out);
    for (size_t m = n_vectors; m < n; m++)
        wfi_rotate_sample(samples, m, is_complex, sense, phases, out);
}

static inline void place_vectors(const wfi_destination *to, const float *bins, size_t begin,
                                 size_t end, float *tiles)
{
    for (size_t c = begin; c < end; c += LANES) {
        const size_t k = c - to->first_channel;
        vector x;
        if (to->conjugate)
            lanes_load_pairs_reversed(bins + 2 * (to->n_channels - LANES - k), &x.re, &x.im);
        else
            lanes_load_pairs(bins + 2 * k, &x.re, &x.im);
        put_vector(to, c, x, phasors_at(to->phases, c - wfi_first_tile_channel(to)), tiles);
    }
}

static void place(const wfi_destination *to, const float *bins, float *tiles)
{
    const size_t end = to->first_channel + to->n_channels;
    size_t c = to->first_channel;
    for (; c < end && c % LANES != 0; c++)
        wfi_place_channel(to, c, bins, tiles);
    const size_t vectors_end = c + (end - c) / LANES * LANES;
    place_vectors(to, bins, c, vectors_end, tiles);
    for (c = vectors_end; c < end; c++)
        wfi_place_channel(to, c, bins, tiles);
}

/* Twice the bins k .. k + LANES - 1 of a real stream, and n - k, n - k - 1, ... */
static inline void split_vectors(const float *half, size_t n, size_t k, vector twiddle,
                                 vector *bins, vector *mirrored)
{
    vector z;
    vector m;
    lanes_load_pairs(half + 2 * k, &z.re, &z.im);
    lanes_load_pairs_reversed(half + 2 * (n - k - LANES + 1), &m.re, &m.im);
    const vector even = {lanes_add(z.re, m.re), lanes_subtract(z.im, m.im)};
    const vector odd = {lanes_add(z.im, m.im), lanes_subtract(m.re, z.re)};
    const vector turned = product(odd, twiddle);
    *bins = (vector){lanes_add(even.re, turned.re), lanes_add(even.im, turned.im)};
    *mirrored = (vector){lanes_subtract(even.re, turned.re), lanes_subtract(turned.im, even.im)};
}

/* Channels k .. and n - k - LANES .. of one stream. `last` is the mirrored vector of the step
 * before, at k + LANES: bin n - k - LANES is its first lane. */
static inline void split_step(const wfi_destination *to, const float *half, size_t k,
                              vector twiddle, const vector *phasors, vector *last, float *tiles)
{
    const size_t n = to->n_channels;
    vector bins;
    vector mirrored;
    split_vectors(half, n, k, twiddle, &bins, &mirrored);
    vector low;
    vector high;
    if (to->conjugate) {
        low = (vector){lanes_shift_down(mirrored.re, last->re),
                       lanes_shift_down(mirrored.im, last->im)};
        high = (vector){lanes_reverse(bins.re), lanes_reverse(bins.im)};
    } else {
        low = bins;
        high = (vector){lanes_shift_reverse(mirrored.re, last->re),
                        lanes_shift_reverse(mirrored.im, last->im)};
    }
    put_vector(to, k, low, phasors[0], tiles);
    put_vector(to, n - k - LANES, high, phasors[1], tiles);
    *last = mirrored;
}

/* Twice bin n / 2 in all lanes. */
static vector middle_bin(const float *half, size_t n)
{
    return (vector){lanes_all(2.0f * half[n]), lanes_all(-2.0f * half[n + 1])};
}

/* Two streams at once share the phasors and twiddles. */
static inline void split_streams(const wfi_destination *to, const float *twiddle, size_t n_streams,
                                 const float *const *halves, float *const *tiles)
{
    const size_t n = to->n_channels;
    vector last[2];
    for (size_t s = 0; s < n_streams; s++)
        last[s] = middle_bin(halves[s], n);
    for (size_t k = n / 2; k > 0;) {
        k -= LANES;
        const vector w = {lanes_load(twiddle + k), lanes_load(twiddle + n / 2 + 1 + k)};
        const vector phasors[2] = {phasors_at(to->phases, k),
                                   phasors_at(to->phases, n - k - LANES)};
        for (size_t s = 0; s < n_streams; s++)
            split_step(to, halves[s], k, w, phasors, &last[s], tiles[s]);
    }
}

static void split(const wfi_destination *to, const float *twiddle, size_t n_streams,
                  const float *const *halves, float *const *tiles)
{
    size_t s = 0;
    for (; s + 2 <= n_streams; s += 2)
        split_streams(to, twiddle, 2, halves + s, tiles + s);
    if (s < n_streams)
        split_streams(to, twiddle, 1, halves + s, tiles + s);
}

#endif
