/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bands' sums on one lattice of delays and rates, row by row.
 *
 *  Along time each channel is summed at its own frequency by chirps; along frequency a row of
 *  channels becomes a row of delays. Only the rows of a block of rates are kept. */
#include "fringe/lattice.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "fringe/chirp.h"
#include "fringe/grid.h"

enum { PADDING = 2, TILE = 16 };
/* Channels that share a chirp miss their own frequency's phase by this much at the edges of window
 * and stretch, turns; 0.02 cost 1e-3 of the amplitude there. */
static const double PHASE_MISS_TURNS = 0.02;
static const size_t BLOCK_VALUES_MAX = (size_t)1 << 24; /* 128 MiB */

struct wfi_lattice {
    const wfi_bands *bands;
    wfi_lattice_axis delays;
    wfi_lattice_axis rates;
    wfi_chirp **along_channels; /* [n bands] */
    float complex **spectra;    /* [n bands] of [n_block][n_channels] */
    float complex *tile;        /* [TILE][n_times], then [TILE][n_block] */
    size_t n_block;
    size_t block_first;
    bool is_filled;
};

/* An even lattice around the middle of the window that reaches over both ends. */
static wfi_lattice_axis axis_of(double low, double high, double step)
{
    const double half = 0.5 * (high - low);
    if (!(half > 0))
        return (wfi_lattice_axis){0.5 * (low + high), 0, 1};
    const double n_half = ceil(half / step * (1 - 1e-12));
    return (wfi_lattice_axis){0.5 * (low + high) - n_half * step, step, 2 * (size_t)n_half + 1};
}

static void choose_axes(wfi_lattice *lattice)
{
    const wfi_bands *bands = lattice->bands;
    const wfi_band *widest = &bands->band[0];
    double highest_hz = 0;
    for (size_t b = 0; b < bands->n; b++) {
        const wfi_band *band = &bands->band[b];
        const wf_fringe_input *in = band->input;
        highest_hz = fmax(highest_hz, band->middle_hz);
        if ((double)in->n_channels * in->channel_width_hz >
            (double)widest->input->n_channels * widest->input->channel_width_hz)
            widest = band;
    }
    const wf_fringe_input *in = widest->input;
    const double n_delays = (double)wfi_grid_length(in->n_channels, PADDING);
    const double n_rates = (double)wfi_grid_length(in->n_times, PADDING);
    lattice->delays = axis_of(bands->delay_low_s, bands->delay_high_s,
                              1 / (fmax(n_delays, 2) * in->channel_width_hz));
    lattice->rates = axis_of(bands->rate_low, bands->rate_high,
                             1 / (fmax(n_rates, 2) * in->interval_s * highest_hz));
}

static size_t choose_block(const wfi_lattice *lattice)
{
    size_t n_channels = 0;
    for (size_t b = 0; b < lattice->bands->n; b++)
        n_channels += lattice->bands->band[b].input->n_channels;
    const size_t n = BLOCK_VALUES_MAX / n_channels;
    return n < 1 ? 1 : n < lattice->rates.n ? n : lattice->rates.n;
}

static wf_status set_up_band(wfi_lattice *lattice, size_t b, wf_error *err)
{
    const wf_fringe_input *in = lattice->bands->band[b].input;
    const wfi_lattice_axis *axis = &lattice->delays;
    WFI_TRY(wfi_allocate(&lattice->spectra[b], lattice->n_block * in->n_channels,
                         sizeof **lattice->spectra, "a fringe's spectra", err));
    return wfi_chirp_create(&lattice->along_channels[b], in->n_channels, axis->n,
                            axis->first * in->channel_width_hz, axis->step * in->channel_width_hz,
                            err);
}

static wf_status set_up(wfi_lattice *lattice, wf_error *err)
{
    const wfi_bands *bands = lattice->bands;
    choose_axes(lattice);
    lattice->n_block = choose_block(lattice);
    const size_t n_times = bands->band[0].input->n_times;
    WFI_TRY(wfi_allocate(&lattice->tile, TILE * (n_times + lattice->n_block), sizeof *lattice->tile,
                         "a fringe's tile", err));
    WFI_TRY(wfi_allocate(&lattice->along_channels, bands->n, sizeof(wfi_chirp *),
                         "a fringe's lattice", err));
    WFI_TRY(wfi_allocate(&lattice->spectra, bands->n, sizeof(float complex *), "a fringe's lattice",
                         err));
    for (size_t b = 0; b < bands->n; b++)
        WFI_TRY(set_up_band(lattice, b, err));
    return WF_OK;
}

wf_status wfi_lattice_create(wfi_lattice **out, const wfi_bands *bands, wf_error *err)
{
    *out = NULL;
    wfi_lattice *lattice = NULL;
    WFI_TRY(wfi_allocate(&lattice, 1, sizeof *lattice, "a fringe's lattice", err));
    lattice->bands = bands;
    const wf_status status = set_up(lattice, err);
    if (status != WF_OK) {
        wfi_lattice_destroy(lattice);
        return status;
    }
    *out = lattice;
    return WF_OK;
}

void wfi_lattice_destroy(wfi_lattice *lattice)
{
    if (lattice == NULL)
        return;
    for (size_t b = 0; b < lattice->bands->n; b++) {
        if (lattice->along_channels != NULL)
            wfi_chirp_destroy(lattice->along_channels[b]);
        if (lattice->spectra != NULL)
            wfi_free(lattice->spectra[b]);
    }
    wfi_free(lattice->along_channels);
    wfi_free(lattice->spectra);
    wfi_free(lattice->tile);
    wfi_free(lattice);
}

const wfi_lattice_axis *wfi_lattice_delays(const wfi_lattice *lattice)
{
    return &lattice->delays;
}

const wfi_lattice_axis *wfi_lattice_rates(const wfi_lattice *lattice)
{
    return &lattice->rates;
}

/* Up to TILE channels from `c`: read by rows, so that a line of the cache serves all of them. */
static void read_tile(wfi_lattice *lattice, const wfi_band *band, size_t c, size_t n)
{
    const wf_fringe_input *in = band->input;
    for (size_t t = 0; t < in->n_times; t++) {
        const bool is_valid = in->weight[t] > 0;
        const float weight = is_valid ? (float)(in->weight[t] * band->scale) : 0;
        const float complex *row = in->visibility + t * in->n_channels + c;
        for (size_t i = 0; i < n; i++)
            lattice->tile[i * in->n_times + t] = is_valid ? weight * row[i] : 0;
    }
}

static void sum_tile(wfi_lattice *lattice, size_t b, wfi_chirp *chirp, size_t c, size_t n,
                     size_t n_rates)
{
    const wf_fringe_input *in = lattice->bands->band[b].input;
    float complex *sums = lattice->tile + TILE * in->n_times;
    read_tile(lattice, &lattice->bands->band[b], c, n);
    for (size_t i = 0; i < n; i++)
        wfi_chirp_execute(chirp, lattice->tile + i * in->n_times, sums + i * n_rates);
    for (size_t m = 0; m < n_rates; m++) {
        for (size_t i = 0; i < n; i++)
            lattice->spectra[b][m * in->n_channels + c + i] = sums[i * n_rates + m];
    }
}

/* How many neighbouring channels take the same chirp. */
static size_t channels_together(const wfi_lattice *lattice, const wf_fringe_input *in)
{
    const wfi_lattice_axis *rates = &lattice->rates;
    const double last = rates->first + (double)(rates->n - 1) * rates->step;
    const double farthest = fmax(fabs(rates->first), fabs(last));
    const double drift_s = farthest * 0.5 * (double)in->n_times * in->interval_s;
    const double n = 2 * PHASE_MISS_TURNS / (drift_s * in->channel_width_hz);
    return n >= (double)in->n_channels ? in->n_channels : n < 1 ? 1 : (size_t)n;
}

static wf_status fill_band(wfi_lattice *lattice, size_t b, double first, size_t n_rates,
                           wf_error *err)
{
    const wfi_band *band = &lattice->bands->band[b];
    const wf_fringe_input *in = band->input;
    const size_t n_together = channels_together(lattice, in);
    for (size_t c = 0; c < in->n_channels; c += n_together) {
        const size_t end = c + n_together < in->n_channels ? c + n_together : in->n_channels;
        const double middle_hz =
            in->first_channel_hz + 0.5 * (double)(c + end - 1) * in->channel_width_hz;
        const double turns = in->interval_s * middle_hz;
        wfi_chirp *chirp = NULL;
        WFI_TRY(wfi_chirp_create(&chirp, in->n_times, n_rates, turns * first,
                                 turns * lattice->rates.step, err));
        for (size_t i = c; i < end; i += TILE)
            sum_tile(lattice, b, chirp, i, end - i < TILE ? end - i : TILE, n_rates);
        wfi_chirp_destroy(chirp);
    }
    return WF_OK;
}

static wf_status fill_block(wfi_lattice *lattice, size_t i_rate, wf_error *err)
{
    const wfi_lattice_axis *rates = &lattice->rates;
    const size_t left = rates->n - i_rate;
    const size_t n = left < lattice->n_block ? left : lattice->n_block;
    const double first = rates->first + (double)i_rate * rates->step;
    for (size_t b = 0; b < lattice->bands->n; b++)
        WFI_TRY(fill_band(lattice, b, first, n, err));
    lattice->block_first = i_rate;
    lattice->is_filled = true;
    return WF_OK;
}

wf_status wfi_lattice_row(float complex *row, wfi_lattice *lattice, size_t i_rate, wf_error *err)
{
    if (!lattice->is_filled || i_rate >= lattice->block_first + lattice->n_block)
        WFI_TRY(fill_block(lattice, i_rate, err));
    for (size_t b = 0; b < lattice->bands->n; b++) {
        const size_t n_channels = lattice->bands->band[b].input->n_channels;
        wfi_chirp_execute(lattice->along_channels[b],
                          lattice->spectra[b] + (i_rate - lattice->block_first) * n_channels,
                          row + b * lattice->delays.n);
    }
    return WF_OK;
}
