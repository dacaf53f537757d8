/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The phase of a fringe without turns: blocks first, integrations against them. */
#include <whitefringe/stability.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/series.h"

enum { TIMES_MIN = 4, BLOCKS_MIN = 4 };
static const double POWER_LEFT_MIN = 0.5;
/* Longer blocks are not tried for less. */
static const double SLIPS_FEW = 1e-6;
static const double PI = WFI_RAD_PER_TURN / 2;

/* The means of blocks that have any valid integration. */
typedef struct block {
    double complex mean;
    double middle; /* weighted, integrations */
    double noise;  /* variance of one component */
    double phase_rad;
} block;

/* Blocks overlap: steps from one to the next are then small. */
static size_t hop(size_t n)
{
    return n > 4 ? n / 4 : 1;
}

static size_t fill_blocks(block *blocks, const wf_fringe_series *series, const double *weight,
                          size_t n)
{
    size_t n_blocks = 0;
    double last = -1;
    for (size_t first = 0; first + n <= series->n_times; first += hop(n)) {
        block made = {0};
        double total = 0;
        for (size_t t = first; t < first + n; t++) {
            if (!(weight[t] > 0))
                continue;
            made.mean += weight[t] * series->fringe[t];
            made.middle += weight[t] * (double)t;
            made.noise += weight[t] * weight[t] * series->sigma[t] * series->sigma[t];
            total += weight[t];
        }
        if (!(total > 0) || !(made.middle / total > last))
            continue;
        made.mean /= total;
        made.middle /= total;
        made.noise /= total * total;
        last = made.middle;
        blocks[n_blocks++] = made;
    }
    return n_blocks;
}

static double step_rad(const block *from, const block *to)
{
    return carg(to->mean * conj(from->mean));
}

/* Variance of the wrapped normal distribution from which such steps come: its mean cosine is
 * exp(-variance / 2). What steps of any size reach by chance, 1 / sqrt(2 n), is taken off it, lest
 * a few lucky ones be trusted. */
static double step_variance(const block *blocks, size_t n_blocks)
{
    double sum = 0;
    for (size_t k = 1; k < n_blocks; k++)
        sum += cos(step_rad(&blocks[k - 1], &blocks[k]));
    const double n_steps = (double)(n_blocks - 1);
    const double mean = sum / n_steps - 1 / sqrt(2 * n_steps);
    return mean > 0 ? -2 * log(mean) : INFINITY;
}

/* Steps beyond half a turn by wander, of a normal distribution; and a quarter turn or more of phase
 * between two blocks of that snr by noise, exp(-snr^2 / 2) / 2 for each that shares no integration
 * with the next (the error rate of differential phase keying: Proakis, Digital Communications, from
 * memory). */
static double expected_slips(const block *blocks, size_t n_blocks, size_t n)
{
    const double variance = step_variance(blocks, n_blocks);
    const double apart = (double)hop(n) / (double)n;
    double expected = 0;
    for (size_t k = 1; k < n_blocks; k++) {
        const double distance = (blocks[k].middle - blocks[k - 1].middle) / (double)hop(n);
        const double spread = sqrt(variance * fmax(distance, 1));
        expected += spread > 0 ? erfc(PI / (sqrt(2) * spread)) : 0;
        const double power = creal(blocks[k].mean) * creal(blocks[k].mean) +
                             cimag(blocks[k].mean) * cimag(blocks[k].mean);
        if (blocks[k].noise > 0)
            expected += apart * 0.5 * exp(-0.5 * power / blocks[k].noise);
    }
    return expected;
}

/* Mean square of the blocks' moduli without noise: what their length leaves of the fringe. */
static double power_left(const block *blocks, size_t n_blocks)
{
    double sum = 0;
    for (size_t k = 0; k < n_blocks; k++)
        sum += creal(blocks[k].mean) * creal(blocks[k].mean) +
               cimag(blocks[k].mean) * cimag(blocks[k].mean) - 2 * blocks[k].noise;
    return sum / (double)n_blocks;
}

/* Blocks in which the fringe has lost half its power may turn by more than half a turn from one to
 * the next, all alike, and look steady: they are not asked. */
static size_t choose_length(block *blocks, const wf_fringe_series *series, const double *weight,
                            double *expected)
{
    size_t best = 1;
    double power = 0;
    *expected = INFINITY;
    for (size_t n = 1; series->n_times / n >= BLOCKS_MIN; n *= 2) {
        const size_t n_blocks = fill_blocks(blocks, series, weight, n);
        const double left = power_left(blocks, n_blocks);
        power = n == 1 ? left : power;
        if (n_blocks < BLOCKS_MIN || left < POWER_LEFT_MIN * power)
            break;
        const double slips = expected_slips(blocks, n_blocks, n);
        if (slips < *expected) {
            *expected = slips;
            best = n;
        }
        if (slips < SLIPS_FEW)
            break;
    }
    return best;
}

static void unwrap_blocks(block *blocks, size_t n_blocks)
{
    blocks[0].phase_rad = carg(blocks[0].mean);
    for (size_t k = 1; k < n_blocks; k++)
        blocks[k].phase_rad = blocks[k - 1].phase_rad + step_rad(&blocks[k - 1], &blocks[k]);
}

/* The line through the two blocks around a time, or through the nearest two beyond the ends. */
static double line_at(const block *blocks, size_t n_blocks, size_t *k, double time)
{
    while (*k + 2 < n_blocks && time > blocks[*k + 1].middle)
        ++*k;
    const block *a = &blocks[*k];
    const block *b = &blocks[*k + 1];
    const double part = (time - a->middle) / (b->middle - a->middle);
    return a->phase_rad + part * (b->phase_rad - a->phase_rad);
}

static void unwrap(wf_fringe_phase *out, const wf_fringe_series *series, const double *weight,
                   const block *blocks, size_t n_blocks)
{
    size_t k = 0;
    for (size_t t = 0; t < series->n_times; t++) {
        if (!(weight[t] > 0)) {
            out->phase_rad[t] = NAN;
            continue;
        }
        const double line = line_at(blocks, n_blocks, &k, (double)t);
        const double phase = carg(series->fringe[t]);
        out->phase_rad[t] = phase - WFI_RAD_PER_TURN * rint((phase - line) / WFI_RAD_PER_TURN);
    }
}

static double mean_amplitude(const wf_fringe_series *series, const double *weight)
{
    double power = 0;
    double total = 0;
    for (size_t t = 0; t < series->n_times; t++) {
        if (!(weight[t] > 0))
            continue;
        const double modulus = cabs(series->fringe[t]);
        power += weight[t] * (modulus * modulus - 2 * series->sigma[t] * series->sigma[t]);
        total += weight[t];
    }
    return sqrt(fmax(power / total, 0));
}

static void fill_sigma(wf_fringe_phase *out, const wf_fringe_series *series, const double *weight)
{
    const double amplitude = mean_amplitude(series, weight);
    for (size_t t = 0; t < series->n_times; t++)
        out->sigma_rad[t] =
            weight[t] > 0 && amplitude > 0 ? series->sigma[t] / amplitude : INFINITY;
}

static wf_status make(wf_fringe_phase **out, size_t n_times, wf_error *err)
{
    wf_fringe_phase *made = NULL;
    WFI_TRY(wfi_allocate(&made, 1, sizeof *made, "a phase in time", err));
    *out = made;
    made->n_times = n_times;
    WFI_TRY(wfi_allocate(&made->phase_rad, n_times, sizeof(double), "a phase in time", err));
    return wfi_allocate(&made->sigma_rad, n_times, sizeof(double), "a phase's noise", err);
}

wf_status wf_fringe_phase_create(wf_fringe_phase **out, const wf_fringe_series *series,
                                 wf_error *err)
{
    *out = NULL;
    if (series->n_times == 0 || !(series->interval_s > 0) || !(series->frequency_hz > 0))
        return wfi_fail(err, WF_ARGUMENT, "the phase of %zu integrations of %g s at %g Hz",
                        series->n_times, series->interval_s, series->frequency_hz);
    if (wfi_series_n_valid(series) < TIMES_MIN)
        return wfi_fail(err, WF_RANGE, "a phase in time needs %d valid integrations, there are %zu",
                        TIMES_MIN, wfi_series_n_valid(series));
    block *blocks = NULL;
    double *weight = NULL;
    wf_fringe_phase *made = NULL;
    wf_status status = make(&made, series->n_times, err);
    if (status == WF_OK)
        status = wfi_allocate(&weight, series->n_times, sizeof *weight, "weights", err);
    if (status == WF_OK)
        status = wfi_allocate(&blocks, series->n_times, sizeof *blocks, "means of a fringe", err);
    if (status == WF_OK) {
        made->interval_s = series->interval_s;
        made->frequency_hz = series->frequency_hz;
        wfi_series_weights(weight, series);
        made->n_smoothed = choose_length(blocks, series, weight, &made->expected_slips);
        const size_t n_blocks = fill_blocks(blocks, series, weight, made->n_smoothed);
        unwrap_blocks(blocks, n_blocks);
        unwrap(made, series, weight, blocks, n_blocks);
        fill_sigma(made, series, weight);
        *out = made;
        made = NULL;
    }
    wf_fringe_phase_destroy(made);
    wfi_free(weight);
    wfi_free(blocks);
    return status;
}

void wf_fringe_phase_destroy(wf_fringe_phase *phase)
{
    if (phase == NULL)
        return;
    wfi_free(phase->phase_rad);
    wfi_free(phase->sigma_rad);
    wfi_free(phase);
}
