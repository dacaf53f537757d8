/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Band-limited noise from overlapping blocks.
 *
 * A block is the inverse transform of independent normal deviates in the bins of the band, under a
 * sine window. Blocks stand half their length apart, so that the squares of the two windows over
 * any point add up to 1: the noise is Gaussian, of constant variance, and each half block is made
 * of two blocks that are found by their number.
 *
 * The window spreads every bin over about two: of the power, of the order of 1/n_bins leaks out at
 * the band's edges.
 */
#include "simulate/common_noise.h"

#include <fftw3.h>
#include <math.h>
#include <string.h>

#include "base/check.h"
#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "simulate/random.h"

struct wfi_noise_bench {
    size_t n_block;
    fftwf_plan plan;      /* backward, in place on block */
    float complex *block; /* [n_block] */
    float *window;        /* [n_block] */
    float *normals;       /* [n_block] */
};

struct wfi_noise {
    wfi_noise_bench *bench;
    uint64_t seed;
    uint64_t identity;
    int hand;
    float complex from_other; /* share of hand 0's deviates in hand 1 */
    float from_own;
    int64_t grid_hz;
    double carrier_hz;
    double variance;
    size_t n_bins;
    int64_t first_bin;
    float *amplitude;       /* [n_bins] of either part of a bin */
    float complex *tail;    /* [n_block/2] second half of the last block made */
    int64_t tail_block;     /* its number */
    float complex *stretch; /* [n_block] two half blocks */
    int64_t first_half;     /* number of the first of them */
};

static const int64_t nothing = INT64_MIN / 2;

wf_status wfi_noise_bench_create(wfi_noise_bench **out, size_t n_block, wf_error *err)
{
    *out = NULL;
    wfi_noise_bench *bench = NULL;
    wf_status status = wfi_allocate(&bench, 1, sizeof *bench, "blocks of noise", err);
    if (status != WF_OK)
        return status;
    bench->n_block = n_block;
    const char *const what = "blocks of noise";
    status = wfi_allocate(&bench->block, n_block, sizeof *bench->block, what, err);
    if (status == WF_OK)
        status = wfi_allocate(&bench->window, n_block, sizeof *bench->window, what, err);
    if (status == WF_OK)
        status = wfi_allocate(&bench->normals, n_block, sizeof *bench->normals, what, err);
    if (status == WF_OK) {
        const double pi = acos(-1.0);
        for (size_t i = 0; i < n_block; i++)
            bench->window[i] = (float)sin(pi * ((double)i + 0.5) / (double)n_block);
        /* ESTIMATE: the same plan each time, so the same samples. */
        wfi_fftw_lock();
        bench->plan =
            fftwf_plan_dft_1d((int)n_block, (fftwf_complex *)bench->block,
                              (fftwf_complex *)bench->block, FFTW_BACKWARD, FFTW_ESTIMATE);
        wfi_fftw_unlock();
        if (bench->plan == NULL)
            status = wfi_fail(err, WF_MEMORY, "FFTW has no plan for %zu points", n_block);
    }
    if (status != WF_OK) {
        wfi_noise_bench_destroy(bench);
        return status;
    }
    *out = bench;
    return WF_OK;
}

void wfi_noise_bench_destroy(wfi_noise_bench *bench)
{
    if (bench == NULL)
        return;
    if (bench->plan != NULL) {
        wfi_fftw_lock();
        fftwf_destroy_plan(bench->plan);
        wfi_fftw_unlock();
    }
    wfi_free(bench->block);
    wfi_free(bench->window);
    wfi_free(bench->normals);
    wfi_free(bench);
}

static double profile(const wfi_line *line, double nu_hz)
{
    if (line == NULL)
        return 1.0;
    const double x = (nu_hz - line->centre_hz) / line->width_hz;
    return exp(-4.0 * log(2.0) * x * x);
}

double wfi_line_mean(const wfi_line *line, double low_hz, double high_hz)
{
    if (line == NULL)
        return 1.0;
    const double scale = 2.0 * sqrt(log(2.0)) / line->width_hz;
    const double pi = acos(-1.0);
    return sqrt(pi) / (2.0 * scale) *
           (erf(scale * (high_hz - line->centre_hz)) - erf(scale * (low_hz - line->centre_hz))) /
           (high_hz - low_hz);
}

/* The bins lie symmetrically about the carrier, at whole multiples of grid_hz/n_block where their
 * number is odd; an even number is centred half a bin beside the range's centre, and the carrier
 * makes up for it. */
static void lay_out_bins(wfi_noise *noise, const wfi_noise_recipe *recipe)
{
    const double width_hz = recipe->high_hz - recipe->low_hz;
    noise->grid_hz = (int64_t)ceil(2.0 * width_hz);
    const double bin_hz = (double)noise->grid_hz / (double)noise->bench->n_block;
    noise->n_bins = (size_t)fmax(rint(width_hz / bin_hz), 1.0);
    noise->first_bin = -(int64_t)(noise->n_bins / 2);
    noise->carrier_hz = recipe->low_hz + 0.5 * width_hz;
    if (noise->n_bins % 2 == 0)
        noise->carrier_hz += 0.5 * bin_hz;
}

static void weigh_bins(wfi_noise *noise, const wfi_noise_recipe *recipe)
{
    const double bin_hz = (double)noise->grid_hz / (double)noise->bench->n_block;
    for (size_t k = 0; k < noise->n_bins; k++) {
        const double nu_hz = noise->carrier_hz + (double)(noise->first_bin + (int64_t)k) * bin_hz;
        const double share = profile(recipe->line, nu_hz) / (double)noise->n_bins;
        noise->variance += share;
        noise->amplitude[k] = (float)sqrt(0.5 * share);
    }
}

wf_status wfi_noise_create(wfi_noise **out, wfi_noise_bench *bench, const wfi_noise_recipe *recipe,
                           wf_error *err)
{
    *out = NULL;
    wfi_noise *noise = NULL;
    const char *const what = "common noise";
    WFI_TRY(wfi_allocate(&noise, 1, sizeof *noise, what, err));
    noise->bench = bench;
    noise->seed = recipe->seed;
    noise->identity = recipe->identity;
    noise->hand = recipe->hand;
    noise->from_other = recipe->hand == 0 ? 0.0f : (float complex)conj(recipe->coherence);
    const double shared = recipe->hand == 0 ? 0.0 : cabs(recipe->coherence);
    noise->from_own = (float)sqrt(fmax(1.0 - shared * shared, 0.0));
    noise->tail_block = noise->first_half = nothing;
    lay_out_bins(noise, recipe);

    wf_status status =
        wfi_allocate(&noise->amplitude, noise->n_bins, sizeof *noise->amplitude, what, err);
    if (status == WF_OK)
        status = wfi_allocate(&noise->tail, bench->n_block / 2, sizeof *noise->tail, what, err);
    if (status == WF_OK)
        status = wfi_allocate(&noise->stretch, bench->n_block, sizeof *noise->stretch, what, err);
    if (status != WF_OK) {
        wfi_noise_destroy(noise);
        return status;
    }
    weigh_bins(noise, recipe);
    *out = noise;
    return WF_OK;
}

void wfi_noise_destroy(wfi_noise *noise)
{
    if (noise == NULL)
        return;
    wfi_free(noise->amplitude);
    wfi_free(noise->tail);
    wfi_free(noise->stretch);
    wfi_free(noise);
}

int64_t wfi_noise_grid_hz(const wfi_noise *noise)
{
    return noise->grid_hz;
}

double wfi_noise_carrier_hz(const wfi_noise *noise)
{
    return noise->carrier_hz;
}

double wfi_noise_variance(const wfi_noise *noise)
{
    return noise->variance;
}

/* Add the deviates of one hand to the bins of a block. */
static void add_hand(const wfi_noise *noise, int64_t i_block, int hand, float complex share)
{
    wfi_noise_bench *const bench = noise->bench;
    const size_t n_block = bench->n_block;
    const uint64_t sequence = noise->identity << 1 | (uint64_t)hand;
    const uint64_t first = (uint64_t)i_block * 2 * n_block;
    const size_t batch = n_block / 2;
    for (size_t done = 0; done < noise->n_bins; done += batch) {
        const size_t n = noise->n_bins - done < batch ? noise->n_bins - done : batch;
        wfi_random_normals(bench->normals, 2 * n, first + 2 * done, sequence, noise->seed);
        for (size_t k = 0; k < n; k++) {
            const int64_t bin = noise->first_bin + (int64_t)(done + k);
            const size_t at = (size_t)(bin < 0 ? bin + (int64_t)n_block : bin);
            const float a = noise->amplitude[done + k] * bench->normals[2 * k];
            const float b = noise->amplitude[done + k] * bench->normals[2 * k + 1];
            bench->block[at] += CMPLXF(crealf(share) * a - cimagf(share) * b,
                                       crealf(share) * b + cimagf(share) * a);
        }
    }
}

/* The windowed block stands in bench->block afterwards. */
static void make_block(const wfi_noise *noise, int64_t i_block)
{
    wfi_noise_bench *const bench = noise->bench;
    memset(bench->block, 0, bench->n_block * sizeof *bench->block);
    if (crealf(noise->from_other) != 0.0f || cimagf(noise->from_other) != 0.0f)
        add_hand(noise, i_block, 0, noise->from_other);
    add_hand(noise, i_block, noise->hand, noise->from_own);
    fftwf_execute(bench->plan);
    for (size_t i = 0; i < bench->n_block; i++)
        bench->block[i] *= bench->window[i];
}

/* Half block number i is the first half of block i and the second of block i - 1. */
static void make_half(wfi_noise *noise, int64_t i_half, float complex *out)
{
    const size_t half = noise->bench->n_block / 2;
    const float complex *const block = noise->bench->block;
    if (noise->tail_block != i_half - 1) {
        make_block(noise, i_half - 1);
        memcpy(noise->tail, block + half, half * sizeof *block);
    }
    make_block(noise, i_half);
    for (size_t i = 0; i < half; i++)
        out[i] = noise->tail[i] + block[i];
    memcpy(noise->tail, block + half, half * sizeof *block);
    noise->tail_block = i_half;
}

const float complex *wfi_noise_get(wfi_noise *noise, int64_t first, size_t n)
{
    const int64_t half = (int64_t)noise->bench->n_block / 2;
    WFI_CHECK(n <= (size_t)half);
    (void)n;
    const int64_t i_half = first / half - (first % half < 0);
    if (noise->first_half != i_half) {
        if (noise->first_half == i_half - 1)
            memcpy(noise->stretch, noise->stretch + half, (size_t)half * sizeof *noise->stretch);
        else
            make_half(noise, i_half, noise->stretch);
        make_half(noise, i_half + 1, noise->stretch + half);
        noise->first_half = i_half;
    }
    return noise->stretch + (first - i_half * half);
}
