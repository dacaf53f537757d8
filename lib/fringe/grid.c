/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Fourier sum of a stretch of visibilities on a grid of delays and rates. */
#include "fringe/grid.h"

#include <fftw3.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"

static bool is_smooth(size_t n)
{
    static const size_t factors[] = {2, 3, 5};
    for (size_t i = 0; i < sizeof factors / sizeof factors[0]; i++) {
        while (n % factors[i] == 0)
            n /= factors[i];
    }
    return n == 1;
}

size_t wfi_grid_length(size_t n, size_t n_padding)
{
    if (n == 1)
        return 1;
    size_t length = n * n_padding + (n * n_padding) % 2;
    while (!is_smooth(length))
        length += 2;
    return length;
}

double wfi_grid_signed(size_t i, size_t n)
{
    return i < (n + 1) / 2 ? (double)i : (double)i - (double)n;
}

static void fill(wfi_grid *grid, const wf_fringe_input *input)
{
    for (size_t t = 0; t < input->n_times; t++) {
        if (!(input->weight[t] > 0))
            continue;
        const float weight = (float)input->weight[t];
        const float complex *in = input->visibility + t * input->n_channels;
        float complex *out = grid->sum + t * grid->n_delays;
        for (size_t c = 0; c < input->n_channels; c++)
            out[c] = weight * in[c];
    }
}

/* Estimated plans: the same input gives the same bits in every run. */
static wf_status execute(wfi_grid *grid, wf_error *err)
{
    wfi_fftw_lock();
    fftwf_plan plan = fftwf_plan_dft_2d((int)grid->n_rates, (int)grid->n_delays, grid->sum,
                                        grid->sum, FFTW_BACKWARD, FFTW_ESTIMATE);
    wfi_fftw_unlock();
    if (plan == NULL)
        return wfi_fail(err, WF_MEMORY, "the transform of %zu x %zu cells could not be planned",
                        grid->n_rates, grid->n_delays);
    fftwf_execute(plan);
    wfi_fftw_lock();
    fftwf_destroy_plan(plan);
    wfi_fftw_unlock();
    return WF_OK;
}

wf_status wfi_grid_transform(wfi_grid *grid, const wf_fringe_input *input, size_t n_rates,
                             size_t n_delays, wf_error *err)
{
    *grid = (wfi_grid){.n_rates = n_rates, .n_delays = n_delays};
    WFI_TRY(
        wfi_allocate(&grid->sum, n_rates * n_delays, sizeof *grid->sum, "a fringe surface", err));
    fill(grid, input);
    return execute(grid, err);
}

void wfi_grid_release(wfi_grid *grid)
{
    wfi_free(grid->sum);
    grid->sum = NULL;
}

static float power(float complex z)
{
    return crealf(z) * crealf(z) + cimagf(z) * cimagf(z);
}

size_t wfi_grid_highest(const wfi_grid *grid)
{
    size_t highest = 0;
    for (size_t i = 1; i < grid->n_rates * grid->n_delays; i++) {
        if (power(grid->sum[i]) > power(grid->sum[highest]))
            highest = i;
    }
    return highest;
}

static void swap(float complex *a, float complex *b)
{
    const float complex kept = *a;
    *a = *b;
    *b = kept;
}

/* Order the cells in [low, high] around a pivot: up to `*left` none above it, from `*right` none
 * below it. Hoare's partition; the middle as pivot serves sorted input too. */
static void partition(float complex *cells, size_t low, size_t high, size_t *left, size_t *right)
{
    const float pivot = power(cells[low + (high - low) / 2]);
    size_t i = low;
    size_t j = high;
    for (;;) {
        while (power(cells[i]) < pivot)
            i++;
        while (power(cells[j]) > pivot)
            j--;
        if (i >= j)
            break;
        swap(&cells[i++], &cells[j--]);
    }
    *left = j;
    *right = i == j ? i + 1 : i;
}

double wfi_grid_median_power(wfi_grid *grid)
{
    const size_t middle = grid->n_rates * grid->n_delays / 2;
    size_t low = 0;
    size_t high = grid->n_rates * grid->n_delays - 1;
    while (low < high) {
        size_t left = 0;
        size_t right = 0;
        partition(grid->sum, low, high, &left, &right);
        if (middle <= left)
            high = left;
        else if (middle >= right)
            low = right;
        else
            break;
    }
    return (double)power(grid->sum[middle]);
}
