/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Coherence against integration time, free of thermal noise.
 *
 *  With weights w_t, the square of a segment's weighted sum is sum_t w_t^2 |z_t|^2, which noise
 *  raises, and the sum over unlike s, t of w_s w_t z_s conj(z_t), which it leaves alone. The
 * latter, over all segments of n integrations and divided by the like sum of weights, is X; with
 * A^2 the mean square without noise, C^2 = 1/n + (1 - 1/n) X / A^2.
 */
#include <whitefringe/stability.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/series.h"

enum { TIMES_MIN = 4, SEGMENTS_MIN = 4, POINTS_AN_OCTAVE = 4 };
static const double DETECTION_SIGMA = 3;

/* Running sums up to and without an integration. */
typedef struct sums {
    double complex fringe; /* w z */
    double power;          /* w^2 |z|^2 */
    double weight;         /* w */
    double square;         /* w^2 */
} sums;

/* A stretch prepared. The noise is that of a mean integration. */
typedef struct stretch {
    size_t n;
    sums *up_to; /* [n + 1] */
    double power;
    double sigma;
    double n_effective;
} stretch;

static void prepare(stretch *s, const wf_fringe_series *series, const double *weight)
{
    sums sum = {0};
    double power = 0;
    double noise = 0;
    for (size_t t = 0; t < s->n; t++) {
        s->up_to[t] = sum;
        const double w = weight[t];
        if (!(w > 0))
            continue;
        const double complex z = series->fringe[t];
        const double square = creal(z) * creal(z) + cimag(z) * cimag(z);
        sum.fringe += w * z;
        sum.power += w * w * square;
        sum.weight += w;
        sum.square += w * w;
        power += w * square;
        noise += w * series->sigma[t] * series->sigma[t];
    }
    s->up_to[s->n] = sum;
    s->sigma = sqrt(noise / sum.weight);
    s->power = power / sum.weight - 2 * noise / sum.weight;
    s->n_effective = sum.weight * sum.weight / sum.square;
}

static double squared(double complex z)
{
    return creal(z) * creal(z) + cimag(z) * cimag(z);
}

/* Products of unlike integrations of one segment: their sum, and that of their weights. */
static double segment_products(const stretch *s, size_t first, size_t n, double *weight)
{
    const sums *a = &s->up_to[first];
    const sums *b = &s->up_to[first + n];
    const double total = b->weight - a->weight;
    *weight = total * total - (b->square - a->square);
    return squared(b->fringe - a->fringe) - (b->power - a->power);
}

static double squared_of(const stretch *s, size_t n, double products, double weight)
{
    const double alike = 1 / (double)n;
    return alike + (1 - alike) * (weight > 0 ? products / weight / s->power : 0);
}

/* Mean over all overlapping segments; false where no two integrations are that near. */
static bool mean_square(double *square, const stretch *s, size_t n)
{
    double products = 0;
    double weights = 0;
    for (size_t first = 0; first + n <= s->n; first++) {
        double weight = 0;
        products += segment_products(s, first, n, &weight);
        weights += weight;
    }
    /* what is left of two integrations' weights; anything below is rounding */
    if (n > 1 && !(weights > 1e-9 * s->up_to[s->n].square))
        return false;
    *square = n == 1 ? 1 : squared_of(s, n, products, weights);
    return true;
}

/* Standard error of the mean square from the scatter of segments that do not overlap. */
static double sampling_error(const stretch *s, size_t n)
{
    const size_t n_segments = s->n / n;
    if (n_segments < SEGMENTS_MIN || n == 1)
        return n == 1 ? 0 : INFINITY;
    double sum = 0;
    double square = 0;
    double total = 0;
    double total_square = 0;
    for (size_t k = 0; k < n_segments; k++) {
        double weight = 0;
        const double products = segment_products(s, k * n, n, &weight);
        if (!(weight > 1e-9 * s->up_to[s->n].square))
            continue;
        const double value = squared_of(s, n, products, weight);
        sum += weight * value;
        square += weight * value * value;
        total += weight;
        total_square += weight * weight;
    }
    const double n_independent = total > 0 ? total * total / total_square : 0;
    if (n_independent < SEGMENTS_MIN)
        return INFINITY;
    const double mean = sum / total;
    return sqrt(fmax(square / total - mean * mean, 0) / (n_independent - 1));
}

/* Mean square of the integrations' shares in all overlapping segments of n of N, less that of equal
 * shares, times N: those near the ends stand in fewer of them. */
static double unequal_shares(size_t n_times, size_t n)
{
    const double total = (double)n_times;
    const double n_segments = total - (double)n + 1;
    const double most = fmin((double)n, n_segments);
    const double squares =
        most * most * (total - 2 * most + 2) + (most - 1) * most * (2 * most - 1) / 3;
    const double sum = (double)n * n_segments;
    return total * squares / (sum * sum) - 1;
}

/* Propagation of noise through X and A^2. First order in noise: both shift alike where the fringe
 * is coherent, and integrations have like shares in both. Second order: products of noise, in X of
 * unlike integrations, in A^2 of like ones. */
static double noise_error(const stretch *s, size_t n, double square)
{
    if (n == 1)
        return 0;
    const double r = s->sigma * s->sigma / s->power;
    const double alike = 1 / (double)n;
    const double c = fmin(fmax(square, 0), 1);
    const double first = 4 * r * c * (1 - c + c * unequal_shares(s->n, n));
    const double unlike = (1 - alike) * (1 - alike) / (double)(n - 1);
    const double second = 4 * r * r * (unlike + (c - alike) * (c - alike));
    return sqrt((first + second) / s->n_effective);
}

/* Error of a root: linear, but where the square is lost in its error the root of that. */
static double error_of_root(double square, double error)
{
    return square > error ? error / (2 * sqrt(square)) : sqrt(error);
}

static wf_coherence_point make_point(const stretch *s, size_t n, double interval_s, double square)
{
    const double noise = noise_error(s, n, square);
    const double sampling = sampling_error(s, n);
    return (wf_coherence_point){
        .time_s = (double)n * interval_s,
        .coherence = sqrt(fmax(square, 0)),
        .error = error_of_root(square, noise),
        .squared = square,
        .squared_error = noise,
        .sampling_error = isfinite(sampling) ? error_of_root(square, sampling) : INFINITY,
        .n_segments = s->n / n,
    };
}

/* 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 13, 16, ..., n_max. */
static size_t next_length(size_t n, size_t n_max)
{
    const double octaves = floor(POINTS_AN_OCTAVE * log2((double)n) + 0.5) + 1;
    size_t next = (size_t)(exp2(octaves / POINTS_AN_OCTAVE) + 0.5);
    if (next <= n)
        next = n + 1;
    return n < n_max && next > n_max ? n_max : next;
}

static wf_status make_points(wf_coherence *out, const stretch *s, double interval_s, wf_error *err)
{
    size_t n_points = 0;
    for (size_t n = 1; n <= s->n; n = next_length(n, s->n))
        n_points++;
    WFI_TRY(wfi_allocate(&out->points, n_points, sizeof *out->points, "a coherence curve", err));
    for (size_t n = 1; n <= s->n; n = next_length(n, s->n)) {
        double square = 0;
        if (mean_square(&square, s, n))
            out->points[out->n_points++] = make_point(s, n, interval_s, square);
    }
    return WF_OK;
}

static wf_status measure(wf_coherence *out, stretch *s, const wf_fringe_series *series,
                         double *weight, wf_error *err)
{
    wfi_series_weights(weight, series);
    prepare(s, series, weight);
    const double noise = 2 * s->sigma * s->sigma / sqrt(s->n_effective);
    if (!(s->power > DETECTION_SIGMA * noise))
        return wfi_fail(err, WF_RANGE,
                        "integrations of %g s show no fringe above their noise (mean square %.3g, "
                        "%.3g of noise's scatter): average some before the coherence is measured",
                        series->interval_s, s->power, noise);
    out->amplitude = sqrt(s->power);
    out->snr = s->sigma > 0 ? out->amplitude / s->sigma : INFINITY;
    return make_points(out, s, series->interval_s, err);
}

wf_status wf_coherence_measure(wf_coherence **out, const wf_fringe_series *series, wf_error *err)
{
    *out = NULL;
    if (series->n_times == 0 || !(series->interval_s > 0))
        return wfi_fail(err, WF_ARGUMENT, "coherence of %zu integrations of %g s", series->n_times,
                        series->interval_s);
    if (wfi_series_n_valid(series) < TIMES_MIN)
        return wfi_fail(err, WF_RANGE, "coherence needs %d valid integrations, there are %zu",
                        TIMES_MIN, wfi_series_n_valid(series));
    stretch s = {.n = series->n_times};
    double *weight = NULL;
    wf_coherence *made = NULL;
    wf_status status = wfi_allocate(&made, 1, sizeof *made, "a coherence curve", err);
    if (status == WF_OK)
        status = wfi_allocate(&weight, s.n, sizeof *weight, "weights", err);
    if (status == WF_OK)
        status = wfi_allocate(&s.up_to, s.n + 1, sizeof *s.up_to, "sums of a fringe", err);
    if (status == WF_OK)
        status = measure(made, &s, series, weight, err);
    wfi_free(weight);
    wfi_free(s.up_to);
    if (status == WF_OK)
        *out = made;
    else
        wf_coherence_destroy(made);
    return status;
}

void wf_coherence_destroy(wf_coherence *coherence)
{
    if (coherence == NULL)
        return;
    wfi_free(coherence->points);
    wfi_free(coherence);
}

double wf_coherence_time_s(const wf_coherence *coherence, double level)
{
    for (size_t i = 1; i < coherence->n_points; i++) {
        const wf_coherence_point *a = &coherence->points[i - 1];
        const wf_coherence_point *b = &coherence->points[i];
        if (b->coherence >= level)
            continue;
        const double part = fmax(a->coherence - level, 0) / (a->coherence - b->coherence);
        return a->time_s * pow(b->time_s / a->time_s, part);
    }
    return INFINITY;
}

double wf_coherence_white_frequency(double time_s, double frequency_hz, double sigma_y_1s)
{
    const double rate = WFI_RAD_PER_TURN * frequency_hz * sigma_y_1s;
    const double a = 0.5 * rate * rate * time_s;
    /* the series of the closed form, where that cancels */
    return a < 1e-3 ? sqrt(1 - a / 3 + a * a / 12) : sqrt(2 * (expm1(-a) + a)) / a;
}
