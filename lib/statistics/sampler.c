/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counts of a sampler's states, and what they say. */
#include "statistics/sampler.h"

#include <math.h>

#include "statistics/normal.h"
#include "statistics/van_vleck.h"

static const double FEWEST_SAMPLES = 100;
static const double NEARLY_ALL = 0.999;
static const double LARGEST_OFFSET_SIGMA = 0.1;
static const double LARGEST_LOSS = 0.01;
/* Best four-level threshold, in sigma: Max 1960, IRE Trans. IT-6, 7. */
static const double BEST_THRESHOLD_2_BITS = 0.98159;
/* Best spacing of equal steps, in sigma, by bits: Thompson, Emerson, Schwab 2007, Radio Science 42,
 * RS3022, table 1. */
static const double BEST_STEP[] = {
    [3] = 0.586019, [4] = 0.335201, [5] = 0.188139, [6] = 0.104063, [7] = 0.056868, [8] = 0.030762};

const char *wf_sampler_verdict_text(wf_sampler_verdict verdict)
{
    switch (verdict) {
    case WF_SAMPLER_NO_DATA:
        return "no data";
    case WF_SAMPLER_STUCK:
        return "stuck";
    case WF_SAMPLER_ONE_SIDED:
        return "one-sided";
    case WF_SAMPLER_OFFSET:
        return "DC offset";
    case WF_SAMPLER_WEAK:
        return "levels too low";
    case WF_SAMPLER_STRONG:
        return "levels too high";
    case WF_SAMPLER_HEALTHY:
        return "healthy";
    }
    return "?";
}

/* Upper thresholds of the best sampler: state k lies between the k-th and the one before. */
static double best_threshold(unsigned bits, size_t k)
{
    const double from_middle = (double)k + 1.0 - ldexp(1.0, (int)bits - 1);
    if (from_middle == 0.0)
        return 0.0;
    return from_middle * (bits == 2 ? BEST_THRESHOLD_2_BITS : BEST_STEP[bits]);
}

bool wf_sampler_optimum(unsigned bits, double fraction[WF_SAMPLER_STATES_MAX])
{
    if (bits < 1 || bits > 8)
        return false;
    const size_t n = (size_t)1 << bits;
    double above = 1.0;
    for (size_t k = 0; k < n; k++) {
        const double next = k + 1 < n ? wfi_normal_above(best_threshold(bits, k)) : 0.0;
        fraction[k] = above - next;
        above = next;
    }
    return true;
}

void wfi_sampler_count_codes(wfi_sampler_counts *counts, const uint8_t *codes, size_t n,
                             size_t stride)
{
    for (size_t i = 0; i < n; i++)
        counts->state[codes[i * stride]]++;
}

/* Bits of the sampler itself, which may lie in the middle of wider codes. */
static unsigned bits_of(const wf_sample_format *format)
{
    return format->sampler_bits != 0 ? format->sampler_bits : format->bits;
}

static bool is_extreme(const wf_sample_format *format, double x)
{
    const double reach = ldexp(1.0, (int)bits_of(format) - 1);
    return format->encoding != WF_ENCODING_FLOAT && (x <= 0.5 - reach || x >= reach - 1.0);
}

void wfi_sampler_count_levels(wfi_sampler_counts *counts, const wfi_decoder *decoder,
                              const float *levels, size_t n, size_t stride)
{
    for (size_t i = 0; i < n; i++) {
        const double x = (double)levels[i * stride];
        const double square = x * x;
        counts->lowest = counts->n > 0 ? fmin(counts->lowest, x) : x;
        counts->highest = counts->n > 0 ? fmax(counts->highest, x) : x;
        counts->n += 1.0;
        counts->sum += x;
        counts->sum_of_squares += square;
        counts->sum_of_fourths += square * square;
        counts->n_positive += x > 0 ? 1.0 : x < 0 ? 0.0 : 0.5;
        counts->n_extreme += is_extreme(&decoder->format, x) ? 1.0 : 0.0;
    }
}

void wfi_sampler_add(wfi_sampler_counts *total, const wfi_sampler_counts *part)
{
    for (size_t k = 0; k < WFI_CODES_MAX; k++)
        total->state[k] += part->state[k];
    if (part->n > 0) {
        total->lowest = total->n > 0 ? fmin(total->lowest, part->lowest) : part->lowest;
        total->highest = total->n > 0 ? fmax(total->highest, part->highest) : part->highest;
    }
    total->n += part->n;
    total->sum += part->sum;
    total->sum_of_squares += part->sum_of_squares;
    total->sum_of_fourths += part->sum_of_fourths;
    total->n_positive += part->n_positive;
    total->n_extreme += part->n_extreme;
}

/* The sums of a sampler of which the states were counted. */
static wfi_sampler_counts with_sums(const wfi_decoder *decoder, const wfi_sampler_counts *counts)
{
    wfi_sampler_counts sums = *counts;
    for (size_t k = 0; k < decoder->n_codes; k++) {
        const double n = (double)counts->state[k];
        const double x = (double)decoder->level[k];
        if (n == 0)
            continue;
        sums.lowest = sums.n > 0 ? sums.lowest : x;
        sums.highest = x;
        sums.n += n;
        sums.sum += n * x;
        sums.sum_of_squares += n * x * x;
        sums.sum_of_fourths += n * x * x * x * x;
        sums.n_positive += x > 0 ? n : x < 0 ? 0.0 : 0.5 * n;
        sums.n_extreme += is_extreme(&decoder->format, x) ? n : 0.0;
    }
    return sums;
}

double wfi_sampler_excess(const wfi_decoder *decoder, const wfi_sampler_counts *counts)
{
    const wfi_sampler_counts s = with_sums(decoder, counts);
    if (!(s.sum_of_squares > 0))
        return 0.0;
    return s.n * s.sum_of_fourths / (s.sum_of_squares * s.sum_of_squares) - 3.0;
}

/* Edges of the states in sigma by the counts; what was never seen is no farther than chance. */
static double edge_sigma(double fraction_below, double n)
{
    const double least = 0.5 / n;
    return -wfi_normal_quantile_above(fmin(fmax(fraction_below, least), 1.0 - least));
}

/* Four states: e1, e2, e3 are the thresholds as seen from the noise's middle. */
static void judge_two_bits(wf_sampler_statistics *out)
{
    const double *p = out->state_fraction;
    const double e1 = edge_sigma(p[0], out->n_samples);
    const double e2 = edge_sigma(p[0] + p[1], out->n_samples);
    const double e3 = edge_sigma(p[0] + p[1] + p[2], out->n_samples);
    out->sigma_steps = 2.0 / (e3 - e1);
    out->offset_sigma = -e2;
}

static void measure_noise(wf_sampler_statistics *out, const wfi_decoder *decoder,
                          double fraction_positive)
{
    const wf_sample_format *format = &decoder->format;
    const bool binary = format->encoding == WF_ENCODING_OFFSET_BINARY;
    const double variance = out->rms * out->rms - out->mean * out->mean;
    out->sigma_steps = NAN;
    if (binary && format->bits == 2)
        judge_two_bits(out);
    else if (binary && format->bits == 1)
        out->offset_sigma = -edge_sigma(1.0 - fraction_positive, out->n_samples);
    else
        out->offset_sigma = variance > 0 ? out->mean / sqrt(variance) : 0.0;
    if (format->bits > 2 && format->encoding != WF_ENCODING_FLOAT)
        out->sigma_steps = sqrt(fmax(0.0, variance - 1.0 / 12.0)); /* Sheppard's correction */
}

static double best_mean_square(const wf_sample_format *format)
{
    wf_sample_format real = *format;
    real.is_complex = false;
    double best = 1.0;
    /* the efficiency has one maximum: step down by quarters of a decibel from full scale */
    for (double x = 2.0 * (double)format->bits; x > -4.0; x -= 0.125) {
        const double square = exp2(x);
        if (wfi_quantisation_efficiency(real, square) > wfi_quantisation_efficiency(real, best))
            best = square;
    }
    return best;
}

static void measure_efficiency(wf_sampler_statistics *out, const wfi_decoder *decoder)
{
    wf_sample_format real = decoder->format;
    real.is_complex = false;
    const double square = out->rms * out->rms;
    const double best = best_mean_square(&real);
    out->efficiency = wfi_quantisation_efficiency(real, square);
    out->best_efficiency = wfi_quantisation_efficiency(real, best);
    const bool lossy = out->efficiency < (1.0 - LARGEST_LOSS) * out->best_efficiency;
    if (out->verdict == WF_SAMPLER_HEALTHY && lossy)
        out->verdict = square < best ? WF_SAMPLER_WEAK : WF_SAMPLER_STRONG;
}

/* Two of four states missing together mean a bit that does not move. */
static bool bit_is_stuck(const wf_sampler_statistics *s)
{
    const double *p = s->state_fraction;
    if (s->n_states != 4)
        return false;
    return p[0] + p[3] > NEARLY_ALL || p[1] + p[2] > NEARLY_ALL || p[0] + p[2] > NEARLY_ALL ||
           p[1] + p[3] > NEARLY_ALL;
}

static wf_sampler_verdict first_fault(const wf_sampler_statistics *s, double fraction_positive)
{
    if (s->n_samples < FEWEST_SAMPLES)
        return WF_SAMPLER_NO_DATA;
    bool stuck = s->lowest == s->highest || bit_is_stuck(s);
    for (size_t k = 0; k < s->n_states; k++)
        stuck = stuck || s->state_fraction[k] > NEARLY_ALL;
    if (stuck)
        return WF_SAMPLER_STUCK;
    if (fraction_positive > NEARLY_ALL || fraction_positive < 1.0 - NEARLY_ALL)
        return WF_SAMPLER_ONE_SIDED;
    /* five times what chance does to the mean of so many samples */
    const double chance = 5.0 * sqrt(1.6 / s->n_samples);
    if (fabs(s->offset_sigma) > LARGEST_OFFSET_SIGMA + chance)
        return WF_SAMPLER_OFFSET;
    return WF_SAMPLER_HEALTHY;
}

void wfi_sampler_judge(wf_sampler_statistics *out, const wfi_decoder *decoder,
                       const wfi_sampler_counts *counts)
{
    const wfi_sampler_counts s = with_sums(decoder, counts);
    const size_t n_states = decoder->n_codes > 0 ? (size_t)1 << bits_of(&decoder->format) : 0;
    const size_t first_code = (decoder->n_codes - n_states) / 2;
    *out = (wf_sampler_statistics){.n_samples = s.n, .n_states = n_states};
    out->sigma_steps = NAN;
    if (!(s.n > 0))
        return;
    for (size_t k = 0; k < n_states; k++)
        out->state_fraction[k] = (double)counts->state[first_code + k] / s.n;
    out->lowest = s.lowest;
    out->highest = s.highest;
    out->extreme_fraction = s.n_extreme / s.n;
    out->mean = s.sum / s.n;
    out->rms = sqrt(s.sum_of_squares / s.n);
    measure_noise(out, decoder, s.n_positive / s.n);
    out->verdict = first_fault(out, s.n_positive / s.n);
    measure_efficiency(out, decoder);
}
